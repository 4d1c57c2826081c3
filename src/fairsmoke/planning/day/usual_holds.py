"""How each cut is usually held: how long at the least and most, and how warm."""

from dataclasses import dataclass

from fairsmoke.physics.limits import SAFETY_LIMITS
from fairsmoke.planning.day.steps import Run
from fairsmoke.trial.protocol import EndCondition, Place, Protocol, Stage, Wrap

HOUR_S = 3600.0
HOLD_C = 66.0
"""What a holding cabinet is set to (150 °F): common practice, no source; above every limit for hot
holding in `physics/limits.py`."""
LEAST_HOLD_C = max(
    limit.at_least_c or 0.0 for key, limit in SAFETY_LIMITS.items() if key.startswith("hold ")
)
"""The strictest of the published limits for hot holding (60 °C): no cooler hold is proposed."""


@dataclass(frozen=True)
class UsualHold:
    """How long a cut is held in a warm cabinet (s)."""

    shortest_s: float
    longest_s: float


USUAL_HOLDS = {
    "brisket": UsualHold(HOUR_S, 12 * HOUR_S),
    "brisket flat": UsualHold(HOUR_S, 8 * HOUR_S),
    "pork shoulder": UsualHold(HOUR_S, 12 * HOUR_S),
    "chuck roast": UsualHold(HOUR_S, 8 * HOUR_S),
    "short ribs": UsualHold(HOUR_S, 6 * HOUR_S),
    "pork ribs": UsualHold(0.5 * HOUR_S, 3 * HOUR_S),
    "turkey breast": UsualHold(0.5 * HOUR_S, 2 * HOUR_S),
}
"""By the model's cuts: common practice, no source. Longer softens lean and ribs too far."""
_ELSE = UsualHold(HOUR_S, 12 * HOUR_S)
COOLER_LONGEST_S = 4 * HOUR_S
"""A dry cooler has no heat of its own: common practice, no source."""


def usual_hold(cut: str, place: Place = Place.CABINET) -> UsualHold:
    """Return how long a cut is usually held in a place; that of large cuts for an unknown one."""
    found = USUAL_HOLDS.get(cut, _ELSE)
    if place is Place.COOLER:
        longest = min(found.longest_s, COOLER_LONGEST_S)
        return UsualHold(min(found.shortest_s, longest), longest)
    return found


def has_hold(protocol: Protocol) -> bool:
    """Tell whether a protocol has a stage in a cabinet or dry cooler."""
    return any(stage.place in (Place.CABINET, Place.COOLER) for stage in protocol.stages)


def hold_stage(shortest_s: float, hold_c: float, wrap: Wrap, taken: frozenset[str]) -> Stage:
    """Return a hold in a cabinet; ``taken`` are the handles that it cannot have."""
    handle = next(name for name in ("hold", "hold-2", "hold-3") if name not in taken)
    return Stage(
        id=handle,
        name="Hold",
        place=Place.CABINET,
        surround_c=hold_c,
        wrap=wrap,
        ends=(EndCondition(elapsed_s=shortest_s),),
    )


def with_hold(protocol: Protocol, cut: str, hold_c: float = HOLD_C) -> Protocol:
    """Return the protocol with a hold after its last stage in a cooker, in the wrap it has there.

    A protocol that has a hold, or no stage in a cooker, comes back as it is.
    """
    cooked = [k for k, stage in enumerate(protocol.stages) if stage.place is Place.COOKER]
    if has_hold(protocol) or not cooked:
        return protocol
    stages, last = list(protocol.stages), cooked[-1]
    taken = frozenset(stage.id for stage in stages)
    stages.insert(
        last + 1, hold_stage(usual_hold(cut).shortest_s, hold_c, stages[last].wrap, taken)
    )
    return Protocol(stages=tuple(stages))


def run_with_hold(run: Run, cut: str, hold_c: float = HOLD_C) -> Run:
    """Return a run with a usual hold where it has none."""
    if run.hold is not None:
        return run
    taken = frozenset(stage.id for stage in (*run.before, *run.after))
    hold = hold_stage(usual_hold(cut).shortest_s, hold_c, run.before[-1].wrap, taken)
    return Run(run.before, hold, run.after)
