"""What the library holds: a source, its cases, what was measured, and what had to be assumed.

Every number is SI and its name carries the unit. A field left at None was not given by the source;
it may then stand in the case's assumptions, with a range, and nowhere else.
"""

from dataclasses import fields
from typing import Annotated, Literal, Self

from pydantic import ConfigDict, Field, model_validator
from pydantic.dataclasses import dataclass

Seen = Literal["read", "read_second_hand", "from_memory"]
Use = Literal["fit", "test"]
RuleClass = Literal["oven", "water_bath", "smokehouse", "tenderness", "order", "national"]
Species = Literal["beef", "pork", "veal", "lamb", "turkey"]
Measure = Literal[
    "time_s",
    "time_to_wrap_s",
    "loss_fraction",
    "yield_fraction",
    "water_fraction",
    "protein_fraction",
    "fat_fraction",
    "water_protein_ratio",
    "water_change_fraction",
    "fat_change_fraction",
    "drip_fraction",
    "core_max_c",
    "core_rise_k",
    "stall_core_c",
    "stall_s",
    "collagen_soluble_fraction",
    "collagen_labile_fraction",
    "collagen_unaltered_fraction",
    "shear_n",
    "shear_half_fall_s",
]
MEASURE_MEANING: dict[str, str] = {
    "time_s": "from going into the heat until the case's end condition",
    "time_to_wrap_s": "from going into the heat until the wrap",
    "loss_fraction": "mass lost while cooking, per raw mass",
    "yield_fraction": "mass after cooking, per raw mass",
    "water_fraction": "water in the cooked meat, per cooked mass",
    "protein_fraction": "protein in the cooked meat, per cooked mass",
    "fat_fraction": "fat in the cooked meat, per cooked mass",
    "water_protein_ratio": "water over protein in the cooked meat",
    "water_change_fraction": "water gained (lost if negative), per raw mass",
    "fat_change_fraction": "fat gained (lost if negative), per raw mass",
    "drip_fraction": "mass that ran off as liquid, per raw mass",
    "core_max_c": "highest core temperature after leaving the heat",
    "core_rise_k": "rise of the core after leaving the heat",
    "stall_core_c": "core temperature at which the rise all but stops",
    "stall_s": "how long it all but stops",
    "collagen_soluble_fraction": "collagen found in solution, per total collagen",
    "collagen_labile_fraction": "collagen altered so that enzymes cut it, per total collagen",
    "collagen_unaltered_fraction": "collagen neither dissolved nor altered, per total collagen",
    "shear_n": "peak force of the Warner-Bratzler shear",
    "shear_half_fall_s": "time in which the fall of shear force is half complete",
}
# Water boils at 100 °C at sea level; a closed lid adds next to nothing.
_BOILS_C = 101.0
_SIGNED = frozenset({"water_change_fraction", "fat_change_fraction"})
_CONFIG = ConfigDict(extra="forbid", allow_inf_nan=False, strict=False)

Key = Annotated[str, Field(pattern=r"^[a-z0-9_]{2,60}$")]
Text = Annotated[str, Field(min_length=1, max_length=1200)]
Celsius = Annotated[float, Field(ge=-40.0, le=320.0)]
Mass = Annotated[float, Field(gt=0.0, le=40.0)]
Length = Annotated[float, Field(gt=0.0, le=1.5)]
Fraction = Annotated[float, Field(ge=0.0, le=1.0)]
Seconds = Annotated[float, Field(ge=0.0, le=400_000.0)]
Count = Annotated[int, Field(ge=1)]


@dataclass(frozen=True, config=_CONFIG)
class ExperimentPiece:
    """The meat as it went in: fractions are of its raw mass, ``start_c`` its temperature.

    ``bone_fraction`` is bone per mass as weighed; water, protein and fat are shares of what is not
    bone.
    """

    mass_kg: Mass | None = None
    thick_m: Length | None = None
    width_m: Length | None = None
    length_m: Length | None = None
    fat_cap_m: Annotated[float, Field(ge=0.0, le=0.05)] | None = None
    bone_in: bool | None = None
    bone_fraction: Fraction | None = None
    cured: bool = False
    water_fraction: Fraction | None = None
    protein_fraction: Fraction | None = None
    fat_fraction: Fraction | None = None
    start_c: Celsius | None = None

    @model_validator(mode="after")
    def _sums(self) -> Self:
        parts = (self.water_fraction, self.protein_fraction, self.fat_fraction)
        if sum(part or 0.0 for part in parts) > 1.0:
            raise ValueError("water, protein and fat add up to more than 1")
        return self


@dataclass(frozen=True, config=_CONFIG)
class HeatingStage:
    """One stretch of heating: the medium's temperature, and what ends it (nothing in the last).

    In a covered pan the medium is what surrounds the meat there, liquid and steam, not the oven.
    """

    medium_c: Celsius | None = None
    duration_s: Seconds | None = None
    until_core_c: Celsius | None = None
    wrap: Literal["bare", "paper", "foil", "bag"] = "bare"


@dataclass(frozen=True, config=_CONFIG)
class Heating:
    """What heated the piece, stage by stage; the last stage lasts until the end condition."""

    medium: Literal["air", "smoke", "water", "covered_pan"]
    stages: Annotated[tuple[HeatingStage, ...], Field(min_length=1)]
    fan: bool | None = None
    humidity_kg_kg: Annotated[float, Field(ge=0.0, le=1.0)] | None = None
    air_speed_m_s: Annotated[float, Field(ge=0.0, le=20.0)] | None = None

    @model_validator(mode="after")
    def _stages_end(self) -> Self:
        for number, stage in enumerate(self.stages, start=1):
            ended = stage.duration_s is not None or stage.until_core_c is not None
            if ended != (number < len(self.stages)):
                wrong = "lasts until the end condition" if ended else "needs a duration or a core"
                raise ValueError(f"stage {number} of {len(self.stages)} {wrong}")
        return self


@dataclass(frozen=True, config=_CONFIG)
class End:
    """When the cook ended: a core temperature, then a hold; or a time; or when judged tender."""

    core_c: Celsius | None = None
    hold_s: Seconds | None = None
    total_s: Seconds | None = None
    tender: bool = False


@dataclass(frozen=True, config=_CONFIG)
class Assumption:
    """A quantity that the source does not give, with the range to draw it from.

    ``field`` is the name of a number of ExperimentPiece, Heating, HeatingStage or End.
    ``matters`` is "major" where the measured outcome turns on it: size or pit temperature for a
    time, end point for a loss.
    """

    field: str
    low: float
    high: float
    why: Text
    matters: Literal["major", "minor"] = "minor"

    @model_validator(mode="after")
    def _range(self) -> Self:
        if not self.low < self.high:
            raise ValueError(f"the range of {self.field} is empty: {self.low} to {self.high}")
        if self.field not in ASSUMABLE:
            raise ValueError(f"{self.field} is not a quantity of a piece, its heating or its end")
        return self


@dataclass(frozen=True, config=_CONFIG)
class MeasuredOutcome:
    """One measured number, with its spread where given, and as the source printed it.

    ``sd`` is between pieces, ``se`` of the mean, ``low`` and ``high`` the printed extremes or the
    printed range. ``about`` marks a number the source itself gives as approximate. ``apart`` says
    why the number is kept but not set beside the model.
    """

    measure: Measure
    value: float
    printed: Text
    sd: Annotated[float, Field(ge=0.0)] | None = None
    se: Annotated[float, Field(ge=0.0)] | None = None
    low: float | None = None
    high: float | None = None
    n: Count | None = None
    part: Literal["whole", "flat", "point"] = "whole"
    about: bool = False
    seen: Seen | None = None
    apart: Text | None = None

    @model_validator(mode="after")
    def _range(self) -> Self:
        check_value(self.measure, self.value)
        low = self.value if self.low is None else self.low
        high = self.value if self.high is None else self.high
        if not low <= self.value <= high:
            raise ValueError(f"{self.measure} {self.value} lies outside its range {low} to {high}")
        return self


@dataclass(frozen=True, config=_CONFIG)
class Pooled:
    """A mean printed over several cases, which the source does not give one by one."""

    measure: Measure
    value: float
    over: Annotated[tuple[Key, ...], Field(min_length=2)]
    printed: Text
    sd: Annotated[float, Field(ge=0.0)] | None = None

    @model_validator(mode="after")
    def _range(self) -> Self:
        check_value(self.measure, self.value)
        return self


@dataclass(frozen=True, config=_CONFIG)
class Ordering:
    """Case ``more`` had the larger ``measure``; ``ratio`` or ``difference`` where printed."""

    measure: Measure
    more: Key
    less: Key
    printed: Text
    ratio: Annotated[float, Field(gt=1.0)] | None = None
    difference: Annotated[float, Field(gt=0.0)] | None = None

    @model_validator(mode="after")
    def _two(self) -> Self:
        if self.more == self.less:
            raise ValueError(f"case {self.more} is compared with itself")
        return self


@dataclass(frozen=True, config=_CONFIG)
class Alike:
    """Cases that the source found to be the same in something that it gives no number for."""

    measure: Measure
    cases: Annotated[tuple[Key, ...], Field(min_length=2)]
    printed: Text


@dataclass(frozen=True, config=_CONFIG)
class Case:
    """One treatment of one kind of piece, what was measured, and what must be assumed to run it.

    ``apart`` says why the case is kept but not set beside the model (docs/experiments.md has the
    rule; it looks at no result).
    """

    key: Key
    species: Species
    cut: Text
    piece: ExperimentPiece
    heating: Heating
    end: End
    muscle: str | None = None
    outcomes: tuple[MeasuredOutcome, ...] = ()
    assumed: tuple[Assumption, ...] = ()
    apart: Text | None = None
    notes: str = ""

    @model_validator(mode="after")
    def _pan_boils(self) -> Self:
        if self.heating.medium == "covered_pan":
            told = [stage.medium_c for stage in self.heating.stages if stage.medium_c is not None]
            told += [gap.high for gap in self.assumed if gap.field == "medium_c"]
            if any(warm > _BOILS_C for warm in told):
                raise ValueError(
                    f"inside a covered pan it is not above {_BOILS_C:g} °C; give the temperature "
                    "around the meat, not the oven's"
                )
        return self

    @model_validator(mode="after")
    def _nothing_given_is_assumed(self) -> Self:
        names = [assumption.field for assumption in self.assumed]
        for name in names:
            if names.count(name) > 1:
                raise ValueError(f"{name} is assumed twice")
            if name in self.given():
                raise ValueError(f"{name} is given and assumed; drop one of the two")
        return self

    @model_validator(mode="after")
    def _can_be_run(self) -> Self:
        known = self.given() | {assumption.field for assumption in self.assumed}
        if "medium_c" not in known:
            raise ValueError("medium_c is neither given for every stage nor assumed")
        if not known & {"mass_kg", "thick_m"}:
            raise ValueError("neither mass_kg nor thick_m is given or assumed")
        if not self.end.tender and not known & {"core_c", "total_s"}:
            raise ValueError("nothing says when the cook ends: give or assume core_c or total_s")
        return self

    def given(self) -> frozenset[str]:
        """Return the names of the quantities that the source gives for this case."""
        parts = (self.piece, self.heating, self.end)
        named = {
            field.name
            for part in parts
            for field in fields(part)
            if getattr(part, field.name) is not None and field.name in ASSUMABLE
        }
        if all(stage.medium_c is not None for stage in self.heating.stages):
            named.add("medium_c")
        return frozenset(named)

    @property
    def major_gaps(self) -> tuple[str, ...]:
        """The assumed quantities on which the outcome turns; empty for a case fully told."""
        return tuple(gap.field for gap in self.assumed if gap.matters == "major")


@dataclass(frozen=True, config=_CONFIG)
class Publication:
    """One publication: where and how it was seen, its use, its cases and comparisons.

    ``family`` joins publications of the same measurements, which count as one source.
    ``use`` follows the rule of ``library.assigned_use``; a source marked "test" is never fitted.
    ``round`` is 1 for what was here before the first fitting, higher for what came after one.
    ``kitchen`` marks a cook's own test or log, not a study; ``many_kitchens`` that each case comes
    from another one.
    """

    key: Key
    citation: Text
    year: Annotated[int, Field(ge=1850, le=2100)]
    year_seen: Seen
    address: Annotated[tuple[Text, ...], Field(min_length=1)]
    seen: Seen
    rule_class: RuleClass
    use: Use
    gives: Text
    cases: Annotated[tuple[Case, ...], Field(min_length=1)]
    family: str | None = None
    round: Count = 1
    kitchen: bool = False
    many_kitchens: bool = False
    pooled: tuple[Pooled, ...] = ()
    orderings: tuple[Ordering, ...] = ()
    alikes: tuple[Alike, ...] = ()
    notes: str = ""

    @model_validator(mode="after")
    def _keys(self) -> Self:
        keys = [case.key for case in self.cases]
        twice = sorted({key for key in keys if keys.count(key) > 1})
        if twice:
            raise ValueError(f"case keys stand twice: {', '.join(twice)}")
        named = {key for mean in self.pooled for key in mean.over}
        named |= {key for order in self.orderings for key in (order.more, order.less)}
        named |= {key for same in self.alikes for key in same.cases}
        unknown = sorted(named - set(keys))
        if unknown:
            raise ValueError(f"no case is called {', '.join(unknown)}")
        return self

    def case(self, key: str) -> Case:
        """Return the case of that key; KeyError if there is none."""
        return {case.key: case for case in self.cases}[key]

    def measures(self) -> frozenset[str]:
        """Return what the source gives a number for, case by case or pooled."""
        single = {outcome.measure for case in self.cases for outcome in case.outcomes}
        return frozenset(single | {mean.measure for mean in self.pooled})


def check_value(measure: str, value: float) -> None:
    """Raise ValueError for a value that the measure cannot have: a fraction above 1, a negative."""
    if measure.endswith("_fraction"):
        least = -1.0 if measure in _SIGNED else 0.0
        if not least <= value <= 1.0:
            raise ValueError(f"{measure} is {value}; a fraction lies between {least:g} and 1")
    elif not value > 0.0:
        raise ValueError(f"{measure} is {value}; it must be above 0")


_NOT_ASSUMABLE = frozenset({"medium", "stages", "fan", "bone_in", "cured", "tender"})
ASSUMABLE = frozenset(
    field.name for part in (ExperimentPiece, Heating, End) for field in fields(part)
).difference(_NOT_ASSUMABLE) | {"medium_c"}
