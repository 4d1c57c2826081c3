"""Published experiments cooked again by the model: what it says against what was measured."""

from dataclasses import dataclass

import numpy as np

from fairsmoke.cooking.body import Piece, one_column, two_dimensional
from fairsmoke.cooking.constants import DEFAULT, Constants
from fairsmoke.cooking.cooker import Cooker, Site
from fairsmoke.cooking.cuts import Flesh
from fairsmoke.cooking.experiments import Case, Source, library
from fairsmoke.cooking.outcomes import Outcome
from fairsmoke.cooking.run import Conditions, Control, ProtocolError, run_body, stage_rows
from fairsmoke.cooking.stages import ROW
from fairsmoke.physics import convection
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.trial.protocol import Cover, EndCondition, Place, Protocol, Stage, Wrap

# Where neither the source nor its assumptions say: usual lean beef, a piece out of the cold room.
_USUAL = {"water_fraction": 0.71, "fat_fraction": 0.06, "start_c": 5.0, "fat_cap_m": 0.0}
_LEAST_PROTEIN, _ASH = 0.08, 0.01
_RHO_KG_M3 = 1050.0
# A roast is somewhat wider than thick and fills most of its box; a cut sample fills nearly all.
_WIDER, _BRISKET_WIDER, _ROAST_FILLS, _SAMPLE_FILLS = 1.4, 3.5, 0.8, 0.97
_SAMPLE_WIDE_M, _SAMPLE_LONG_M = 0.08, 0.12
# A circulated water bath around a bag: water gives about 300 W/(m²·K) and the bag a little less.
_BATH_W_M2K = 250.0
# The least that rising air gives, however small the difference.
_STILL_W_M2K = 3.0
# Columns along and across: coarser than usual, the sizes themselves are known to 10 %.
_COARSE = (7, 3)
_LONGEST_S = 60 * 3600.0


@dataclass(frozen=True)
class Compared:
    """One measured number and the model's, of one case; `error` is model minus measured."""

    source: str
    case: str
    measure: str
    measured: float
    model: float

    @property
    def error(self) -> float:
        """Model minus measured, in the measure's unit."""
        return self.model - self.measured


def run_experiment(
    constants: Constants,
    case: Case,
    drawn: dict[str, float] | None = None,
    *,
    whole_body: bool = True,
    control: Control | None = None,
) -> Outcome:
    """Cook a case and return its outcome. `drawn` replaces the middle of assumed ranges by name.

    Raises ProtocolError where the case never ends in the model.
    """
    value = _values(case, drawn or {})
    piece = _piece(case, value)
    if whole_body:
        body = two_dimensional(piece, constants, *_COARSE)
    else:
        body = one_column(piece, constants)
    protocol = _protocol(case, value)
    conditions = Conditions(cooker=_cooker(case, value), site=Site())
    rows = stage_rows(protocol, conditions, 2.0 * float(np.sum(body.shape.plan_m2)))
    _medium(case, rows)
    times = np.zeros(0)
    return run_body(body, piece, protocol, rows, conditions, constants, times, control or Control())


def compare(
    constants: Constants = DEFAULT, use: str | None = None, *, whole_body: bool = True
) -> list[Compared]:
    """Return every measured number of the library that the model gives too, with both values."""
    found: list[Compared] = []
    for source in library():
        if use is None or source.use == use:
            found += compare_source(constants, source, whole_body=whole_body)
    return found


def compare_source(
    constants: Constants, source: Source, *, whole_body: bool = True
) -> list[Compared]:
    """Return the comparisons of one source; cases that never end in the model give NaN."""
    found = []
    for case in source.cases:
        wanted = [outcome for outcome in case.outcomes if outcome.measure in MEASURES]
        if not wanted:
            continue
        try:
            outcome = run_experiment(constants, case, whole_body=whole_body)
        except ProtocolError:
            answers = dict.fromkeys(MEASURES, float("nan"))
        else:
            answers = measures(outcome, case)
        found += [
            Compared(source.key, case.key, one.measure, one.value, answers[one.measure])
            for one in wanted
        ]
    return found


MEASURES = (
    "time_s",
    "loss_fraction",
    "yield_fraction",
    "drip_fraction",
    "water_fraction",
    "fat_fraction",
    "protein_fraction",
    "water_change_fraction",
    "fat_change_fraction",
    "collagen_soluble_fraction",
    "collagen_unaltered_fraction",
    "time_to_wrap_s",
)


def measures(outcome: Outcome, case: Case) -> dict[str, float]:
    """Return the model's value of every measure that it has, in the library's units."""
    kept = outcome.retained_kg
    # Collagen is measured in samples from the middle, not in the piece minced whole.
    core = outcome.regions["core"]
    stages = list(outcome.stage_end_s.values())
    hold = case.end.hold_s or 0.0
    # Ash goes with protein in the model's solids.
    protein = outcome.solids_kg / (1.0 + DEFAULT.ash_of_protein)
    return {
        "time_s": outcome.end_s - hold,
        "time_to_wrap_s": stages[0],
        "loss_fraction": 1.0 - outcome.yield_share,
        "yield_fraction": outcome.yield_share,
        "drip_fraction": (outcome.dripped_kg + outcome.in_wrap_kg + outcome.rendered_kg)
        / outcome.start_kg,
        "water_fraction": outcome.water_kg / kept,
        "fat_fraction": outcome.fat_kg / kept,
        "protein_fraction": protein / kept,
        "water_change_fraction": (outcome.water_kg - outcome.raw_water_kg) / outcome.start_kg,
        "fat_change_fraction": -outcome.rendered_kg / outcome.start_kg,
        "collagen_soluble_fraction": core.collagen_dissolved,
        "collagen_unaltered_fraction": core.collagen_native,
    }


def _values(case: Case, drawn: dict[str, float]) -> dict[str, float]:
    """Return every quantity of the case: given, else drawn, else the middle of its range."""
    value: dict[str, float] = {}
    for gap in case.assumed:
        value[gap.field] = drawn.get(gap.field, 0.5 * (gap.low + gap.high))
    parts = (case.piece, case.heating, case.end)
    for part in parts:
        for name, given in vars(part).items():
            if isinstance(given, int | float) and not isinstance(given, bool):
                value[name] = float(given)
    return value


def _piece(case: Case, value: dict[str, float]) -> Piece:
    get = _USUAL | value
    mass, thick = value.get("mass_kg"), value.get("thick_m")
    if thick is None and mass is not None:
        thick = (mass / _RHO_KG_M3 / _ROAST_FILLS / _WIDER / 1.6) ** (1 / 3)
    assert thick is not None
    if mass is None:
        width = value.get("width_m", max(_SAMPLE_WIDE_M, thick))
        length = value.get("length_m", max(_SAMPLE_LONG_M, thick))
        mass = _RHO_KG_M3 * _SAMPLE_FILLS * thick * width * length
    else:
        volume = mass / _RHO_KG_M3 / _ROAST_FILLS
        wider = _BRISKET_WIDER if "brisket" in case.cut else _WIDER
        width = value.get("width_m", min(wider * thick, (volume / thick) ** 0.5))
        length = value.get("length_m", volume / thick / width)
    water, fat = get["water_fraction"], get["fat_fraction"]
    protein = value.get("protein_fraction", 1.0 - water - fat - _ASH)
    flesh = Flesh(water, max(protein, _LEAST_PROTEIN), fat)
    cut = "pork shoulder" if case.species == "pork" else "brick"
    cap = get["fat_cap_m"]
    return Piece(cut, mass, length, width, thick, thick, cap, get["start_c"], flesh)


def _cooker(case: Case, value: dict[str, float]) -> Cooker:
    heating = case.heating
    thick = value.get("thick_m", 0.08)
    medium = value.get("medium_c") or heating.stages[-1].medium_c or 120.0
    warm, film = 0.4 * min(medium, 200.0), min(medium, 200.0)
    still = float(convection.natural_convection_w_m2k(warm, film, thick))
    h = max(still, _STILL_W_M2K)
    speed = value.get("air_speed_m_s", 1.0 if heating.fan else 0.0)
    if speed > 0.02:
        forced = float(convection.forced_convection_w_m2k(warm, film, thick, speed))
        h = (still**3 + forced**3) ** (1 / 3)
    smoke = heating.medium == "smoke"
    return Cooker(
        convection_w_m2k=h,
        wall_above_k=-4.0 if smoke else 0.0,
        wall_below_k=15.0 if smoke else 0.0,
        exchange_kg_s=8e-3 if smoke else 2e-3,
        fuel_water_kg_j=Cooker().fuel_water_kg_j if smoke else 0.0,
        loss_w_k=8.0 if smoke else 0.0,
        ramp_s=300.0,
        ratio_kg_kg=value.get("humidity_kg_kg"),
    )


def _protocol(case: Case, value: dict[str, float]) -> Protocol:
    stages = []
    covers = {"bare": Cover.BARE, "foil": Cover.FOIL, "bag": Cover.FILM_UNDER_FOIL}
    tight = case.heating.medium in ("water", "covered_pan")
    last = len(case.heating.stages) - 1
    for number, one in enumerate(case.heating.stages):
        cover = Cover.FILM_UNDER_FOIL if tight else covers[one.wrap]
        ends = [EndCondition(elapsed_s=_LONGEST_S)]
        if number < last:
            if one.duration_s is not None:
                ends = [EndCondition(elapsed_s=one.duration_s)]
            if one.until_core_c is not None:
                ends.append(EndCondition(core_c=one.until_core_c))
        elif "core_c" in value:
            ends.append(EndCondition(core_c=value["core_c"]))
            if "total_s" in value:
                ends.append(EndCondition(elapsed_s=value["total_s"]))
        elif "total_s" in value:
            ends = [EndCondition(elapsed_s=value["total_s"])]
        else:
            ends.append(EndCondition(feel="tender"))
        warm = one.medium_c if one.medium_c is not None else value["medium_c"]
        stages.append(
            Stage(
                id=f"stage-{number}",
                name="heating",
                place=Place.COOKER,
                surround_c=warm,
                wrap=Wrap(above=cover, below=cover),
                ends=tuple(ends),
            )
        )
    if value.get("hold_s"):
        held = EndCondition(elapsed_s=value["hold_s"])
        stages.append(stages[-1].model_copy(update={"id": "hold", "ends": (held,)}))
    return Protocol(stages=tuple(stages))


def _medium(case: Case, rows: FloatArray) -> None:
    """Turn the rows of air into those of a water bath or a covered pan."""
    if case.heating.medium == "water":
        rows[:, [ROW.convection_above, ROW.convection_below]] = _BATH_W_M2K
        rows[:, [ROW.emissivity_above, ROW.emissivity_below]] = 0.0
        rows[:, [ROW.gap_above, ROW.gap_below]] = 1.0
        rows[:, [ROW.resistance_above, ROW.resistance_below]] = 1e13
        rows[:, ROW.ramp_s] = 0.0
    elif case.heating.medium == "covered_pan":
        rows[:, [ROW.emissivity_above, ROW.emissivity_below]] = 0.9
