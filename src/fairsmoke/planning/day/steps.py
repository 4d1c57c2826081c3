"""The hands-on steps that a protocol asks of a cook, and what is weighed at each."""

from dataclasses import dataclass
from enum import StrEnum

from fairsmoke.planning.errors import PlanError
from fairsmoke.trial.protocol import Cover, Place, Protocol, Stage, Wrap


class StepKind(StrEnum):
    """What hands do."""

    LIGHT = "light"
    ON = "put on"
    RAISE = "raise"
    LOWER = "lower"
    WRAP = "wrap"
    UNWRAP = "unwrap"
    MOVE = "move"
    PULL = "pull"
    OPEN = "open"
    SLICE = "slice"
    FUEL = "fuel"
    WATER = "water"


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
                raise PlanError(f"{name} of {value:g} s: a step takes more than 0 and up to 2 h")

    def of(self, kind: StepKind) -> float:
        """Return how long a step of a kind takes (s)."""
        if kind in (StepKind.RAISE, StepKind.LOWER):
            return self.turn_s
        if kind in (StepKind.WRAP, StepKind.UNWRAP, StepKind.MOVE):
            return self.wrap_s
        known = {
            StepKind.LIGHT: self.light_s,
            StepKind.ON: self.on_s,
            StepKind.PULL: self.pull_s,
            StepKind.OPEN: self.open_s,
            StepKind.SLICE: self.slice_s,
            StepKind.FUEL: self.fuel_s,
            StepKind.WATER: self.water_s,
        }
        return known[kind]


@dataclass(frozen=True)
class Step:
    """A step between two stages: which stage it ends (0 for the first; −1: before all)."""

    kind: StepKind
    ends_stage: int
    words: str
    weigh: tuple[str, ...] = ()
    to_c: float | None = None


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
        raise PlanError("the protocol has no stage in a cooker before its hold; give it one")
    for stage in before:
        if any(end.clock is not None for end in stage.ends):
            raise PlanError(
                f"stage '{stage.id}' ends by the clock, so that its length hangs on when the cook "
                "begins, which is what you ask; give it a core temperature or a time elapsed"
            )
    return Run(before, hold, after)


def _last_cooked(stages: tuple[Stage, ...]) -> int:
    return max((k for k, s in enumerate(stages) if s.place is Place.COOKER), default=-1)


def steps_of(run: Run, name: str) -> tuple[Step, ...]:
    """Return the hands-on steps of one piece from putting on to pulling, in order."""
    first = run.before[0]
    found = [
        Step(
            StepKind.ON,
            -1,
            f"{name}: put on",
            ("trimmed meat", "trimmed meat + rub"),
            first.surround_c,
        )
    ]
    for k, (one, then) in enumerate(zip(run.before, run.before[1:], strict=False)):
        found += _between(k, one, then, name)
    last = len(run.before) - 1
    used = run.before[-1].wrap
    weigh = ["tray, empty", "cooked meat + tray"]
    if used != Wrap():
        weigh.append("used wrap + drippings")
    where = "to the hold" if run.hold is not None else "off to rest"
    found.append(Step(StepKind.PULL, last, f"{name}: pull, {where}", tuple(weigh)))
    return tuple(found)


def _between(at: int, one: Stage, then: Stage, name: str) -> list[Step]:
    found = []
    if one.place != then.place:
        found.append(Step(StepKind.MOVE, at, f"{name}: to the {then.place}"))
    if one.wrap != then.wrap or then.adds:
        bare = then.wrap == Wrap()
        tray = Cover.TRAY in (then.wrap.above, then.wrap.below)
        added = ", ".join(add.name for add in then.adds)
        words = "unwrap" if bare and one.wrap != then.wrap else f"wrap ({then.wrap.text})"
        if one.wrap == then.wrap:
            words = "add"
        weigh: tuple[str, ...] = () if bare else ("tray, empty" if tray else "wrap, new",)
        weigh += tuple(f"added {add.what}: {add.name}" for add in then.adds)
        kind = StepKind.UNWRAP if bare and one.wrap != then.wrap else StepKind.WRAP
        found.append(
            Step(kind, at, f"{name}: {words}" + (f", add {added}" if added else ""), weigh)
        )
    before, after = one.surround_c, then.surround_c
    if one.place == then.place and before is not None and after is not None and before != after:
        kind = StepKind.RAISE if after > before else StepKind.LOWER
        found.append(Step(kind, at, f"{name}: {kind} the pit", (), after))
    return found


def end_words(stage: Stage) -> str:
    """Return in words what ends a stage, in °C and hours, for messages."""
    words = []
    for end in stage.ends:
        if end.core_c is not None:
            words.append(f"core {end.core_c:g} °C")
        elif end.elapsed_s is not None:
            words.append(f"after {end.elapsed_s / 3600:g} h")
        else:
            words.append(end.feel or f"at {end.clock}")
    return " or ".join(words)


__all__ = ["Minutes", "Run", "Step", "StepKind", "end_words", "run_of", "steps_of"]
