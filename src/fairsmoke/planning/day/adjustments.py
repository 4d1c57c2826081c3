"""What a cook can do when it runs early or late, as protocols that the simulator can run."""

from dataclasses import dataclass

from fairsmoke.trial.protocol import Cover, EndCondition, Place, Protocol, Stage, Wrap

PIT_STEP_K = 14.0
"""25 °F, the step by which cooks turn a pit; common practice, no source."""
CORE_STEP_K = 5.0
_TIGHT = frozenset({Cover.FOIL, Cover.FILM, Cover.FILM_UNDER_FOIL})


@dataclass(frozen=True)
class Lever:
    """Something to do: when it serves ("late", "early"), in words, and the protocol with it."""

    id: str
    when: str
    words: str
    protocol: Protocol


def levers_of(protocol: Protocol) -> tuple[Lever, ...]:
    """Return what can be done to one arm's protocol; what it already does is left out."""
    stages = protocol.stages
    cooked = [k for k, stage in enumerate(stages) if stage.place is Place.COOKER]
    if not cooked:
        return ()
    last, found = cooked[-1], []
    set_c = stages[last].surround_c
    if set_c is not None:
        name = stages[last].name
        for sign, when, word in ((1.0, "late", "hotter"), (-1.0, "early", "cooler")):
            there = set_c + sign * PIT_STEP_K
            changed = _with(stages, last, {"surround_c": there})
            words = f"from '{name}' on, the pit {PIT_STEP_K:g} °C {word} ({there:.0f} °C)"
            found.append(Lever(word, when, words, changed))
    if not _tight(stages[last].wrap):
        foil = _with(stages, last, {"wrap": Wrap(above=Cover.FOIL, below=Cover.FOIL)})
        found.append(Lever("foil", "late", f"foil all round from '{stages[last].name}' on", foil))
    first_wrapped = next((k for k in cooked if k and stages[k].wrap != stages[k - 1].wrap), None)
    if first_wrapped is not None:
        sooner = _sooner(stages, first_wrapped - 1)
        if sooner is not None:
            words = f"the wrap {CORE_STEP_K:g} °C of core sooner"
            found.append(Lever("wrap sooner", "late", words, sooner))
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


__all__ = ["CORE_STEP_K", "PIT_STEP_K", "Lever", "levers_of"]
