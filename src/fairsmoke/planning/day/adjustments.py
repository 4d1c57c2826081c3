"""What a cook can do when it runs early or late, as protocols that the simulator can run."""

from dataclasses import dataclass
from typing import Literal

from fairsmoke.trial.protocol import Cover, EndCondition, Place, Protocol, Stage, Wrap

PIT_STEP_K = 14.0
"""25 °F, the step by which cooks turn a pit; common practice, no source."""
CORE_STEP_K = 5.0
_TIGHT = frozenset({Cover.FOIL, Cover.FILM, Cover.FILM_UNDER_FOIL})


@dataclass(frozen=True)
class DayAdjustment:
    """Something to do, the stage from which on it is done, and the protocol with it.

    ``to_c`` is the pit's temperature where that is what changes.
    """

    kind: Literal["hotter", "cooler", "foil", "wrap sooner"]
    stage: str
    protocol: Protocol
    to_c: float | None = None

    @property
    def when(self) -> Literal["late", "early"]:
        """Whether it serves a day that runs late or one that runs early."""
        return "early" if self.kind == "cooler" else "late"


def adjustments_of(protocol: Protocol) -> tuple[DayAdjustment, ...]:
    """Return what can be done to one arm's protocol; what it already does is left out."""
    stages = protocol.stages
    cooked = [k for k, stage in enumerate(stages) if stage.place is Place.COOKER]
    if not cooked:
        return ()
    last, found = cooked[-1], []
    name, set_c = stages[last].name, stages[last].surround_c
    if set_c is not None:
        hotter, cooler = set_c + PIT_STEP_K, set_c - PIT_STEP_K
        changed = [_with(stages, last, {"surround_c": there}) for there in (hotter, cooler)]
        found.append(DayAdjustment("hotter", name, changed[0], hotter))
        found.append(DayAdjustment("cooler", name, changed[1], cooler))
    if not _tight(stages[last].wrap):
        foil = _with(stages, last, {"wrap": Wrap(above=Cover.FOIL, below=Cover.FOIL)})
        found.append(DayAdjustment("foil", name, foil))
    first_wrapped = next((k for k in cooked if k and stages[k].wrap != stages[k - 1].wrap), None)
    if first_wrapped is not None:
        sooner = _sooner(stages, first_wrapped - 1)
        if sooner is not None:
            found.append(DayAdjustment("wrap sooner", name, sooner))
    return tuple(found)


def _tight(wrap: Wrap) -> bool:
    return wrap.above in _TIGHT and wrap.below in _TIGHT


def _with(stages: tuple[Stage, ...], at: int, change: dict[str, object]) -> Protocol:
    made = list(stages)
    made[at] = made[at].model_copy(update=change)
    return Protocol(stages=tuple(made))


def _sooner(stages: tuple[Stage, ...], at: int) -> Protocol | None:
    """Return the protocol with a stage's core temperature lowered; None where it has none."""
    if all(end.core_c is None for end in stages[at].ends):
        return None
    ends = tuple(
        end if end.core_c is None else EndCondition(core_c=end.core_c - CORE_STEP_K)
        for end in stages[at].ends
    )
    return _with(stages, at, {"ends": ends})
