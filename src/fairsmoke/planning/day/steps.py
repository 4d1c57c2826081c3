"""The hands-on steps that a protocol asks of a cook, and what is weighed at each."""

from dataclasses import dataclass
from enum import StrEnum

from fairsmoke.messages.message import N_, T_, InputField
from fairsmoke.planning.errors import PlanError
from fairsmoke.quantity.values import Duration
from fairsmoke.trial.protocol import Cover, Place, Protocol, Stage, Wrap


class StepKind(StrEnum):
    """What hands do, in words that are translated where they are shown."""

    LIGHT = "light"
    ON = T_("put on")
    RAISE = "raise"
    LOWER = "lower"
    WRAP = T_("wrap")
    UNWRAP = "unwrap"
    MOVE = "move"
    PULL = T_("pull")
    OPEN = T_("open")
    SLICE = T_("slice")
    FUEL = T_("fuel")
    WATER = T_("water")


@dataclass(frozen=True)
class Minutes:
    """How long one hands-on step takes (s). Common practice, no source; weighing is in them."""

    light_s: float = 900.0
    on_s: float = 300.0
    wrap_s: float = 480.0
    turn_s: float = 120.0
    pull_s: float = 480.0
    open_s: float = 240.0
    slice_s: float = 600.0
    fuel_s: float = 180.0
    water_s: float = 180.0

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            if not 0.0 < value <= 7200.0:
                raise PlanError(
                    N_(
                        "%(field)s of %(value)s: a step takes more than 0 and up to 2 h.",
                        field=InputField(name.removesuffix("_s")),
                        value=Duration(value),
                    )
                )

    def of(self, kind: StepKind) -> float:
        """Return how long a step of a kind takes (s)."""
        alike = {"put on": "on", "raise": "turn", "lower": "turn", "unwrap": "wrap", "move": "wrap"}
        return float(getattr(self, f"{alike.get(kind, kind)}_s"))


class ScaleLoad(StrEnum):
    """What lies on the scale, in words that are translated where they are shown."""

    TRIMMED = T_("trimmed meat")
    RUBBED = T_("trimmed meat + rub")
    TRAY = T_("tray, empty")
    WRAP = T_("wrap, new")
    FAT = T_("added fat")
    LIQUID = T_("added liquid")
    RUB = T_("added rub")
    SLATHER = T_("added slather")
    COOKED = T_("cooked meat + tray")
    USED_WRAP = T_("used wrap + drippings")
    HELD = T_("held meat + tray")
    DRIPPINGS = T_("drippings + tray")
    SERVED = T_("served meat")


@dataclass(frozen=True)
class StepWeighing:
    """Something to weigh at a step; ``name`` of what is added."""

    load: ScaleLoad
    name: str = ""


@dataclass(frozen=True)
class HandsOnStep:
    """A step between two stages: which stage it ends (0 for the first; −1: before all).

    ``then`` is the stage or hold it leads to, None where the piece comes off to rest. ``wraps``
    when the wrap changes; ``to_c`` is the pit's temperature that is set or wanted.
    """

    kind: StepKind
    ends_stage: int
    then: Stage | None
    weigh: tuple[StepWeighing, ...] = ()
    to_c: float | None = None
    wraps: bool = False


@dataclass(frozen=True)
class Run:
    """A protocol parted at its hold: stages before it, the hold (None: none), what follows."""

    before: tuple[Stage, ...]
    hold: Stage | None
    after: tuple[Stage, ...]

    @property
    def nominal_hold_s(self) -> float | None:
        """How long the protocol itself says the hold lasts; None where it does not."""
        if self.hold is None:
            return None
        times = [end.elapsed_s for end in self.hold.ends if end.elapsed_s is not None]
        return min(times) if times else None


def run_of(protocol: Protocol) -> Run:
    """Part a protocol at the hold, its last stage in a cabinet or dry cooler.

    Raises PlanError for a protocol without a stage in a cooker, and where a stage before the hold
    ends by the clock: its length would depend on when the cook begins, which is what is asked.
    """
    stages = protocol.stages
    warm = [k for k, s in enumerate(stages) if s.place in (Place.CABINET, Place.COOLER)]
    at = warm[-1] if warm else _last_cooked(stages) + 1
    hold = stages[at] if warm else None
    before, after = stages[:at], stages[at + 1 :] if warm else stages[at:]
    if not any(stage.place is Place.COOKER for stage in before):
        raise PlanError(N_("The protocol has no stage in a cooker before its hold; give it one."))
    for stage in before:
        if any(end.clock is not None for end in stage.ends):
            raise PlanError(
                N_(
                    "Stage “%(stage)s” ends by the clock, so that its length hangs on when the "
                    "cook begins, which is what is asked; give it a core temperature or a time "
                    "elapsed.",
                    stage=stage.id,
                )
            )
    return Run(before, hold, after)


def _last_cooked(stages: tuple[Stage, ...]) -> int:
    return max((k for k, s in enumerate(stages) if s.place is Place.COOKER), default=-1)


def steps_of(run: Run) -> tuple[HandsOnStep, ...]:
    """Return the hands-on steps of one piece from putting on to pulling, in order."""
    first = run.before[0]
    on = _weighed(ScaleLoad.TRIMMED, ScaleLoad.RUBBED)
    found = [HandsOnStep(StepKind.ON, -1, first, on, first.surround_c)]
    for k, (one, then) in enumerate(zip(run.before, run.before[1:], strict=False)):
        found += _between(k, one, then)
    off = _weighed(ScaleLoad.TRAY, ScaleLoad.COOKED)
    if run.before[-1].wrap != Wrap():
        off += _weighed(ScaleLoad.USED_WRAP)
    found.append(HandsOnStep(StepKind.PULL, len(run.before) - 1, run.hold, off))
    return tuple(found)


def _weighed(*loads: ScaleLoad) -> tuple[StepWeighing, ...]:
    return tuple(StepWeighing(load) for load in loads)


def _between(at: int, one: Stage, then: Stage) -> list[HandsOnStep]:
    found = []
    if one.place != then.place:
        found.append(HandsOnStep(StepKind.MOVE, at, then))
    wraps = one.wrap != then.wrap
    if wraps or then.adds:
        bare = then.wrap == Wrap()
        tray = Cover.TRAY in (then.wrap.above, then.wrap.below)
        weigh = () if bare else _weighed(ScaleLoad.TRAY if tray else ScaleLoad.WRAP)
        weigh += tuple(StepWeighing(ScaleLoad(f"added {add.what}"), add.name) for add in then.adds)
        kind = StepKind.UNWRAP if bare and wraps else StepKind.WRAP
        found.append(HandsOnStep(kind, at, then, weigh, wraps=wraps))
    before, after = one.surround_c, then.surround_c
    if one.place == then.place and before is not None and after is not None and before != after:
        kind = StepKind.RAISE if after > before else StepKind.LOWER
        found.append(HandsOnStep(kind, at, then, to_c=after))
    return found
