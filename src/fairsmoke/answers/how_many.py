"""How many pairs a question takes: from a trial of the notebook, or from a few words."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

from pydantic import ValidationError

from fairsmoke.judging.finding import Finding
from fairsmoke.judging.judge import judge
from fairsmoke.messages.errors import JobError, is_for_a_person, message_of
from fairsmoke.notebook import Notebook
from fairsmoke.planning.size.cost import Prices
from fairsmoke.planning.size.how_many import HowMany, Means, Panel, how_many
from fairsmoke.planning.size.past import Learnt, learnt_of
from fairsmoke.planning.size.repeats import Block
from fairsmoke.quantity import parse_duration
from fairsmoke.trial.plan import LayoutKind
from fairsmoke.trial.question import TIMES, Measure, MeasureKind
from fairsmoke.trial.record import TrialRecord


@dataclass(frozen=True)
class Choices:
    """What a person may say; None and "" leave it to the trial, or to what is usual.

    ``halves`` whether the pieces of a pair are cut from one; ``positions`` whether they stand in
    places that may differ. ``usual_time``, ``measuring`` and ``true`` are as people write them.
    """

    most: int = 12
    each: int = 1
    per_cook: int | None = None
    halves: bool | None = None
    positions: bool = True
    sure: float | None = None
    prices: Prices = field(default_factory=Prices)
    tasters: int | None = None
    repeats: int = 1
    answer_sd: float | None = None
    taster_by_method_sd: float = 0.0
    usual_time: str = ""
    measuring: str = ""
    true: tuple[str, ...] = ()


def how_many_of_trial(
    record: TrialRecord, past: Iterable[Finding], choices: Choices, measures: tuple[str, ...] = ()
) -> tuple[HowMany, ...]:
    """Return the table for every measure of a trial, the main one first, or for those named.

    ``past`` are findings of other trials, whose spreads are used where the measure is the same.
    Raises JobError for a measure that the trial does not have; PlanError for numbers.
    """
    trial = record.trial
    known = {measure.id: measure for measure in trial.measures}
    for handle in measures:
        if handle not in known:
            raise JobError(
                f"trial '{trial.id}' has no measure '{handle}'; it has {', '.join(known)}"
            )
    main = trial.main_measure
    wanted = [known[h] for h in measures] or [main, *(m for m in trial.measures if m is not main)]
    past = tuple(past)
    return tuple(
        _table(m, _with_trial(record, choices), len(trial.arms), learnt_of(m, past)) for m in wanted
    )


def _with_trial(record: TrialRecord, choices: Choices) -> Choices:
    """Fill in what the person left open from the trial and its plan."""
    trial, plan = record.trial, record.plan
    halves, per_cook = choices.halves, choices.per_cook
    prices, tasters = choices.prices, choices.tasters
    if halves is None:
        drawn = plan.layout if plan is not None else None
        halves = trial.draw.within == "whole piece" or (
            drawn is not None and drawn.kind is LayoutKind.HALVES
        )
    if plan is not None:
        at_hand = plan.at_hand
        if per_cook is None:
            per_cook = max(1, len(at_hand.spots) // (len(trial.arms) * choices.each))
        prices = Prices(
            at_hand.price_piece if prices.piece is None else prices.piece,
            at_hand.price_cook if prices.cook is None else prices.cook,
            prices.sitting,
            prices.currency or at_hand.currency,
        )
        tasters = tasters if tasters is not None else at_hand.tasters or None
    return replace(
        choices,
        halves=halves,
        per_cook=per_cook,
        prices=prices,
        tasters=tasters,
        sure=trial.verdict.sure if choices.sure is None else choices.sure,
    )


def how_many_of_measure(measure: Measure, choices: Choices, arms: int = 2) -> HowMany:
    """Return the table for one measure that no trial has yet."""
    return _table(measure, choices, arms, ())


def _table(measure: Measure, choices: Choices, arms: int, learnt: tuple[Learnt, ...]) -> HowMany:
    block = Block(
        arms=arms,
        each=choices.each,
        per_cook=choices.per_cook or 1,
        positions=choices.positions,
        from_one="parent" if choices.halves else "",
    )
    means = Means(
        block=block,
        most=choices.most,
        sure=0.95 if choices.sure is None else choices.sure,
        prices=choices.prices,
        panel=_panel(measure, choices),
        measuring_sd=_difference(measure, choices.measuring) if choices.measuring else 0.0,
        truths=(0.0, *(_difference(measure, t) for t in choices.true)) if choices.true else None,
        learnt=learnt,
    )
    if choices.usual_time and measure.kind in TIMES:
        means = replace(means, usual_time_s=parse_duration(choices.usual_time))
    return how_many(measure, means)


def _panel(measure: Measure, choices: Choices) -> Panel | None:
    if measure.kind is not MeasureKind.SCORE or choices.tasters is None:
        return None
    return Panel(choices.tasters, choices.repeats, choices.answer_sd, choices.taster_by_method_sd)


def _difference(measure: Measure, text: str) -> float:
    """Read a difference of a measure as its own worthwhile difference would be read."""
    content = {**measure.model_dump(), "worthwhile": text}
    try:
        return Measure.model_validate(content).worthwhile
    except ValidationError as error:
        raise JobError(f"{text!r} for {measure.name}: {message_of(error)}") from error


def measure_of(kind: str, worthwhile: str, *, unit: str = "", scale: str = "") -> Measure:
    """Return a measure from a few words. Raises JobError that says what is wrong.

    >>> measure_of("yield", "2 points").worthwhile
    0.02
    """
    low, _, high = scale.partition(" to ")
    content: dict[str, object] = {
        "id": "asked",
        "name": kind.capitalize(),
        "kind": kind,
        "better": "lower" if kind in {k.value for k in TIMES} else "higher",
        "worthwhile": worthwhile,
        "unit": unit,
    }
    if kind == MeasureKind.TIME_TO_CORE:
        # Any will do: the plan does not depend on it.
        content["core_c"] = 95.0
    try:
        if scale:
            content |= {"scale_low": float(low), "scale_high": float(high)}
        MeasureKind(kind)
        return Measure.model_validate(content)
    except ValidationError as error:
        raise JobError(message_of(error)) from error
    except ValueError as error:
        if scale and not high:
            raise JobError(f"the scale {scale!r}: write it as '1 to 9'") from error
        if kind not in list(MeasureKind):
            kinds = ", ".join(MeasureKind)
            raise JobError(f"'{kind}' is no kind of measure; there are {kinds}") from error
        raise JobError(f"the scale {scale!r}: write it as '1 to 9'") from error


def past_findings(notebook: Notebook, but: str, *, now: datetime | None = None) -> list[Finding]:
    """Judge every other trial of the notebook that can be judged, for what it taught of spreads."""
    found: list[Finding] = []
    for trial in notebook.trials():
        if trial.id == but:
            continue
        try:
            found.append(judge(notebook.load_trial(trial.id), made=now or datetime.now(UTC)))
        except ValueError as error:
            # Not cooked yet, or its record does not fit together: it teaches nothing.
            if not is_for_a_person(error):
                raise
    return found
