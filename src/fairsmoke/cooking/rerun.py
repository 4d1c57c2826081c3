"""Published experiments cooked again by the model: what it says against what was measured."""

from dataclasses import dataclass, replace

import numpy as np

from fairsmoke.cooking.body import MeasuredPiece, one_column, two_dimensional
from fairsmoke.cooking.constants import DEFAULT, Constants
from fairsmoke.cooking.cooker import CookerModel, Site
from fairsmoke.cooking.cuts import CUTS, Flesh
from fairsmoke.cooking.experiments import Case, End, Publication, library
from fairsmoke.cooking.experiments import HeatingStage as Told
from fairsmoke.cooking.logged_cooks import FAN_W_M2K
from fairsmoke.cooking.outcomes import Outcome
from fairsmoke.cooking.run import (
    Conditions,
    Control,
    ProtocolError,
    run_body,
    stage_rows,
    usual_control,
)
from fairsmoke.cooking.stages import ROW
from fairsmoke.physics import convection
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.trial.protocol import Cover, EndCondition, Place, Protocol, Stage, Wrap

# Where neither the source nor its assumptions say: usual lean beef, a piece out of the cold room.
_USUAL = {"water_fraction": 0.71, "fat_fraction": 0.06, "start_c": 5.0, "fat_cap_m": 0.0}
_LEAST_PROTEIN, _ASH = 0.08, 0.01
_RHO_KG_M3 = 1050.0
# A roast fills most of its box; a cut sample fills nearly all.
_ROAST_FILLS, _SAMPLE_FILLS = 0.8, 0.97
# How much wider than thick and longer than wide, by the first word of a cut that fits: common
# practice, no source, but for the pot roast (chuck_roasts_2018: 5 to 6.4 cm thick at 1 kg).
_SHAPES = (
    ("brisket", 3.5, 1.8),
    ("eye of round", 1.05, 2.5),
    ("spareribs", 5.0, 2.5),
    ("back ribs", 4.0, 3.0),
    ("short ribs", 2.0, 2.0),
    ("country-style ribs", 1.5, 4.0),
    ("pot roast", 2.5, 1.4),
    ("chuck roast", 2.5, 1.4),
    ("chuck arm", 2.5, 1.4),
    ("chuck blade", 2.5, 1.4),
    ("tri-tip", 2.5, 2.0),
    ("steak", 4.0, 1.6),
    ("loin", 1.4, 2.2),
    ("inside round", 1.6, 1.6),
    ("top round", 1.6, 1.6),
    ("", 1.4, 1.6),
)
_CUT_TO_SHAPE = ("slab", "steak", "portion", "slice", "cut from")
_SAMPLE_WIDE_M, _SAMPLE_LONG_M = 0.08, 0.12
# A circulated water bath around a bag: water gives about 300 W/(m²·K) and the bag a little less.
_BATH_W_M2K = 250.0
# A piece half in simmering liquid under a lid, the rest in steam that condenses on it: some
# hundreds, so that the meat itself is what holds the heat back. The pot warms with a time constant
# of a quarter of an hour, if brought to a simmer first, to an hour, if cold in an oven of 120 °C
# (10 kJ/K of meat, liquid and iron, 0.25 m² at 12 W/(m²·K)).
_POT_W_M2K, _POT_RAMP_S = 300.0, 1800.0
# Braised beef is not tender while its middle is cooler (85 °C judged tender in harris_2017; the
# national study of chuck cuts lifted at 85 °C, from memory).
_TENDER_CORE_C = 85.0
# The least that rising air gives, however small the difference.
_STILL_W_M2K = 3.0
# Columns along and across: coarser than usual, the sizes themselves are known to 10 %.
_COARSE = (7, 3)
_LONGEST_S = 60 * 3600.0
CONVECTION, PLATE = "convection", "plate"
# As near as the solver lands on the core temperature that ends a stage.
_DONE_K = 0.2


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

    CONVECTION (a factor) and PLATE (K) in it change the cooker. Raises ProtocolError where the case
    never ends in the model.
    """
    case = held_at_core(case)
    value = _values(case, drawn or {})
    piece = _piece(case, value)
    if whole_body:
        body = two_dimensional(piece, constants, *_COARSE)
    else:
        body = one_column(piece, constants)
    cooker = _cooker(case, value)
    cooker = replace(
        cooker,
        convection_w_m2k=cooker.convection_w_m2k * (drawn or {}).get(CONVECTION, 1.0),
        wall_below_k=cooker.wall_below_k + (drawn or {}).get(PLATE, 0.0),
    )
    conditions = Conditions(cooker=cooker, site=Site())
    protocol = _protocol(case, value)

    def cook(count: int) -> Outcome:
        part = protocol.model_copy(update={"stages": protocol.stages[:count]})
        rows = stage_rows(part, conditions, 2.0 * float(np.sum(body.shape.plan_m2)))
        _medium(case, rows)
        run = control or usual_control(whole_body)
        return run_body(body, piece, part, rows, conditions, constants, np.zeros(0), run)

    # A piece that is done before a timed stage is over is taken off then.
    for number, told in enumerate(case.heating.stages[:-1], start=1):
        if told.duration_s is not None and "core_c" in value:
            outcome = cook(number)
            if outcome.core_c > value["core_c"] - _DONE_K:
                return outcome
    outcome = cook(len(protocol.stages))
    if case.end.tender and "total_s" in value and outcome.core_c < _TENDER_CORE_C:
        # The guide's hours have passed and the middle is not hot yet: it cooks on until it is.
        hot = (EndCondition(core_c=_TENDER_CORE_C), EndCondition(elapsed_s=_LONGEST_S))
        last = protocol.stages[-1].model_copy(update={"ends": hot})
        protocol = protocol.model_copy(update={"stages": (*protocol.stages[:-1], last)})
        outcome = cook(len(protocol.stages))
    return outcome


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
    constants: Constants, source: Publication, *, whole_body: bool = True
) -> list[Compared]:
    """Return the comparisons of one source; cases that never end in the model give NaN."""
    found = []
    for case in source.cases:
        wanted = [one for one in case.outcomes if one.measure in MEASURES and not one.apart]
        if not wanted or case.apart:
            continue
        try:
            outcome = run_experiment(constants, case, whole_body=whole_body)
        except ProtocolError:
            answers = dict.fromkeys(MEASURES, float("nan"))
        else:
            answers = measures(outcome, case, bone_share(case))
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
    "water_protein_ratio",
    "water_change_fraction",
    "fat_change_fraction",
    "collagen_soluble_fraction",
    "collagen_unaltered_fraction",
    "time_to_wrap_s",
)


def held_at_core(case: Case) -> Case:
    """Return the case with its hold at the core temperature reached, as the sources say it.

    A bath stays as it is: there the core is already at the bath's temperature.
    """
    end = case.end
    if not end.hold_s or end.core_c is None or case.heating.medium == "water":
        return case
    *before, last = case.heating.stages
    until = replace(last, until_core_c=end.core_c)
    stages = (*before, until, Told(medium_c=end.core_c, wrap=last.wrap))
    heating = replace(case.heating, stages=stages)
    return replace(case, heating=heating, end=End(total_s=end.hold_s))


def bone_share(case: Case, drawn: dict[str, float] | None = None) -> float:
    """Return bone per mass as weighed; 0 where neither told nor assumed."""
    return _values(case, drawn or {}).get("bone_fraction", 0.0)


def measures(outcome: Outcome, case: Case, bone: float = 0.0) -> dict[str, float]:
    """Return the model's value of every measure that it has, in the library's units.

    Shares of the raw mass count `bone` into it, as the sources weigh it; bone is taken to keep its
    mass. Composition is of what is not bone.
    """
    kept, flesh = outcome.retained_kg, 1.0 - bone
    # Collagen is measured in samples from the middle, not in the piece minced whole.
    core = outcome.regions["core"]
    stages = list(outcome.stage_end_s.values())
    hold = case.end.hold_s or 0.0
    # Ash goes with protein in the model's solids.
    protein = outcome.solids_kg / (1.0 + DEFAULT.ash_of_protein)
    lost = flesh * (1.0 - outcome.yield_share)
    liquid_kg = outcome.dripped_kg + outcome.in_wrap_kg + outcome.rendered_kg
    return {
        "time_s": outcome.end_s - hold,
        "time_to_wrap_s": stages[0],
        "loss_fraction": lost,
        "yield_fraction": 1.0 - lost,
        "drip_fraction": flesh * liquid_kg / outcome.start_kg,
        "water_fraction": outcome.water_kg / kept,
        "fat_fraction": outcome.fat_kg / kept,
        "protein_fraction": protein / kept,
        "water_protein_ratio": outcome.water_kg / protein,
        "water_change_fraction": flesh
        * (outcome.water_kg - outcome.raw_water_kg)
        / outcome.start_kg,
        "fat_change_fraction": -flesh * outcome.rendered_kg / outcome.start_kg,
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


def _piece(case: Case, value: dict[str, float]) -> MeasuredPiece:
    get = _USUAL | value
    mass, thick = value.get("mass_kg"), value.get("thick_m")
    wider, longer = next(
        (wide, long) for word, wide, long in _SHAPES if word in case.cut.casefold()
    )
    if mass is not None:
        mass *= 1.0 - value.get("bone_fraction", 0.0)
    cut, tapers = _shape(case, mass is not None)
    # Thickness in the mean of a piece that tapers, against its thick end.
    mean = 0.5 * (1.0 + CUTS[cut].thin_share) if tapers else 1.0
    if thick is None and mass is not None:
        thick = (mass / _RHO_KG_M3 / _ROAST_FILLS / mean / (wider * wider * longer)) ** (1 / 3)
    assert thick is not None
    if mass is None:
        width = value.get("width_m", max(_SAMPLE_WIDE_M, thick))
        length = value.get("length_m", max(_SAMPLE_LONG_M, thick))
        mass = _RHO_KG_M3 * _SAMPLE_FILLS * thick * width * length
    else:
        volume = mass / _RHO_KG_M3 / _ROAST_FILLS / mean
        width = value.get("width_m", min(wider * thick, (volume / thick) ** 0.5))
        length = value.get("length_m", volume / thick / width)
    water, fat = get["water_fraction"], get["fat_fraction"]
    protein = value.get("protein_fraction", 1.0 - water - fat - _ASH)
    flesh = Flesh(water, max(protein, _LEAST_PROTEIN), fat)
    cap, thin = get["fat_cap_m"], None if tapers else thick
    return MeasuredPiece(cut, mass, length, width, thick, thin, cap, get["start_c"], flesh)


def _shape(case: Case, weighed: bool) -> tuple[str, bool]:
    """Return the preset whose outline a case has, and whether it tapers as the preset does.

    A brisket has the outline of a brisket, a roast of which the mass is told or assumed rounded
    sides, what was cut to a shape square ones.
    """
    if case.species == "pork":
        return "pork shoulder", False
    name = case.cut.casefold()
    if "brisket" in name:
        flat = "flat" in name or "point" in name
        return "brisket flat" if flat else "brisket", True
    cut_to_shape = not weighed or any(word in name for word in _CUT_TO_SHAPE)
    return ("brick" if cut_to_shape else "chuck roast"), False


def _cooker(case: Case, value: dict[str, float]) -> CookerModel:
    heating = case.heating
    thick = value.get("thick_m", 0.08)
    medium = value.get("medium_c") or heating.stages[-1].medium_c or 120.0
    warm, film = 0.4 * min(medium, 200.0), min(medium, 200.0)
    still = float(convection.natural_convection_w_m2k(warm, film, thick))
    h = max(still, _STILL_W_M2K)
    speed = value.get("air_speed_m_s", 0.0)
    if heating.fan:
        h = FAN_W_M2K
    elif speed > 0.02:
        forced = float(convection.forced_convection_w_m2k(warm, film, thick, speed))
        h = (still**3 + forced**3) ** (1 / 3)
    smoke = heating.medium == "smoke"
    return CookerModel(
        convection_w_m2k=h,
        wall_above_k=-4.0 if smoke else 0.0,
        wall_below_k=15.0 if smoke else 0.0,
        exchange_kg_s=8e-3 if smoke else 2e-3,
        fuel_water_kg_j=CookerModel().fuel_water_kg_j if smoke else 0.0,
        loss_w_k=8.0 if smoke else 0.0,
        ramp_s=300.0,
        # An oven is hot before the roast goes in.
        preheated=heating.medium == "air",
        ratio_kg_kg=value.get("humidity_kg_kg"),
    )


def _protocol(case: Case, value: dict[str, float]) -> Protocol:
    stages = []
    covers = {
        "bare": Cover.BARE,
        "paper": Cover.PAPER,
        "foil": Cover.FOIL,
        "bag": Cover.FILM_UNDER_FOIL,
    }
    tight = case.heating.medium in ("water", "covered_pan")
    last = len(case.heating.stages) - 1
    for number, one in enumerate(case.heating.stages):
        cover = Cover.FILM_UNDER_FOIL if tight else covers[one.wrap]
        ends = [EndCondition(elapsed_s=_LONGEST_S)]
        if number < last:
            if one.duration_s is not None:
                ends = [EndCondition(elapsed_s=one.duration_s)]
                if "core_c" in value:
                    ends.append(EndCondition(core_c=value["core_c"]))
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
    """Turn the rows of air into those of a water bath or of a pan with liquid under a lid.

    In both the surface takes heat from liquid or steam and gives off no vapour.
    """
    if case.heating.medium not in ("water", "covered_pan"):
        return
    bath = case.heating.medium == "water"
    rows[:, [ROW.convection_above, ROW.convection_below]] = _BATH_W_M2K if bath else _POT_W_M2K
    rows[:, [ROW.emissivity_above, ROW.emissivity_below]] = 0.0
    rows[:, [ROW.gap_above, ROW.gap_below]] = 1.0
    rows[:, [ROW.resistance_above, ROW.resistance_below]] = 1e13
    rows[:, ROW.ramp_s] = 0.0 if bath else _POT_RAMP_S
