"""How many pairs a question takes: from a trial of the notebook, or from a few words."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Self

from pydantic import ValidationError

from fairsmoke.answers.earlier import earlier_trials, past_digests
from fairsmoke.answers.past import past_of
from fairsmoke.answers.store import ResultKey, Store, program_digest
from fairsmoke.judging.past import Learnt, Taught, learnt_of, meat_of
from fairsmoke.messages.errors import JobError, message_of
from fairsmoke.messages.message import N_, InputField, Listed
from fairsmoke.notebook import Notebook
from fairsmoke.planning.size.cost import Prices
from fairsmoke.planning.size.how_many import AIM, HowMany, Means, Panel, how_many
from fairsmoke.planning.size.repeats import Block
from fairsmoke.quantity import parse_duration
from fairsmoke.telling.document import to_json
from fairsmoke.telling.how_many import alike, curve_of, how_many_document
from fairsmoke.trial.plan import LayoutKind, Plan
from fairsmoke.trial.question import TIMES, Measure, MeasureKind
from fairsmoke.trial.record import TrialRecord

Progress = Callable[[int, int], None]
"""Told how many measures are done and how many there are."""


@dataclass(frozen=True)
class HowManyRequest:
    """How many it takes, and what a person may say of it.

    None and "" leave it to the trial, or to what is usual.

    ``halves`` whether the pieces of a pair are cut from one; ``positions`` whether they stand in
    places that may differ; ``whole_cooks`` whether every cook has one arm. ``pairs`` is the number
    that is singled out. ``usual_time``, ``measuring`` and ``true`` are as people write them.
    """

    most: int = 12
    each: int = 1
    per_cook: int | None = None
    halves: bool | None = None
    positions: bool = True
    whole_cooks: bool | None = None
    sure: float | None = None
    prices: Prices = field(default_factory=Prices)
    tasters: int | None = None
    repeats: int = 1
    answer_sd: float | None = None
    taster_by_method_sd: float = 0.0
    usual_time: str = ""
    measuring: str = ""
    true: tuple[str, ...] = ()
    pairs: int | None = None

    @classmethod
    def from_json(cls, content: Mapping[str, Any]) -> Self:
        """Return the request that plain data says."""
        return cls(**{**content, "true": tuple(content.get("true", ()))})


def how_many_of_trial(
    record: TrialRecord,
    past: Iterable[Taught],
    request: HowManyRequest,
    measures: tuple[str, ...] = (),
    progress: Progress | None = None,
) -> tuple[HowMany, ...]:
    """Return the table for every measure of a trial, the main one first, or for those named.

    ``past`` is what earlier trials taught of spreads; it counts for the same measure and meat.
    Raises JobError for a measure that the trial does not have; PlanError for numbers.
    """
    trial = record.trial
    known = {measure.id: measure for measure in trial.measures}
    for handle in measures:
        if handle not in known:
            message = N_(
                "trial “%(trial)s” has no measure “%(measure)s”; it has %(known)s",
                trial=trial.id,
                measure=handle,
                known=Listed(list(known)),
            )
            raise JobError(message, field="measure")
    main = trial.main_measure
    wanted = [known[h] for h in measures] or [main, *(m for m in trial.measures if m is not main)]
    past, meat, filled = tuple(past), meat_of(record), with_trial(record, request)
    found = []
    for number, one in enumerate(wanted):
        if progress is not None:
            progress(number, len(wanted))
        found.append(_table(one, filled, len(trial.arms), learnt_of(one, past, meat)))
    return tuple(found)


def with_trial(record: TrialRecord, request: HowManyRequest) -> HowManyRequest:
    """Return the request with what the person left open filled in from the trial and its plan."""
    trial, plan = record.trial, record.plan
    halves, per_cook = request.halves, request.per_cook
    prices, tasters, pairs = request.prices, request.tasters, request.pairs
    whole, each = request.whole_cooks, request.each
    if whole is None:
        kind = plan.layout.kind if plan is not None and plan.layout is not None else None
        whole = trial.draw.given_to == "cooks" or kind is LayoutKind.WHOLE_COOKS
    if halves is None:
        drawn = plan.layout if plan is not None else None
        halves = trial.draw.within == "whole piece" or (
            drawn is not None and drawn.kind is LayoutKind.HALVES
        )
    if plan is not None:
        at_hand = plan.at_hand
        if whole:
            per_cook = 1
            each = each if each > 1 else _pieces_of_a_cook(plan)
        elif per_cook is None:
            per_cook = max(1, len(at_hand.spots) // (len(trial.arms) * request.each))
        prices = Prices(
            at_hand.price_piece if prices.piece is None else prices.piece,
            at_hand.price_cook if prices.cook is None else prices.cook,
            prices.sitting,
            prices.currency or at_hand.currency,
        )
        tasters = tasters if tasters is not None else at_hand.tasters or None
        pairs = pairs or _pairs_at_hand(
            plan, len(trial.arms) * each, per_cook, arms=len(trial.arms), whole=whole
        )
    return replace(
        request,
        halves=halves and not whole,
        whole_cooks=whole,
        each=each,
        per_cook=per_cook,
        prices=prices,
        tasters=tasters,
        pairs=pairs,
        sure=trial.verdict.sure if request.sure is None else request.sure,
    )


def _pieces_of_a_cook(plan: Plan) -> int:
    """Return how many pieces of one arm a cook holds, at least one."""
    if plan.layout is not None:
        return len(plan.layout.slots) // len({slot.cook for slot in plan.layout.slots})
    at_hand = plan.at_hand
    room = len(at_hand.spots) or len(at_hand.pieces)
    return max(1, min(room, len(at_hand.pieces) // at_hand.cooks))


def _pairs_at_hand(plan: Plan, pieces: int, per_cook: int, *, arms: int, whole: bool) -> int:
    """Return how many repeats of so many pieces were drawn, or could be with what is at hand."""
    if plan.layout is not None:
        return len(plan.layout.slots) // pieces
    # A repeat of whole cooks is one of every arm.
    cooks = plan.at_hand.cooks // arms if whole else per_cook * plan.at_hand.cooks
    return min(len(plan.at_hand.pieces) // pieces, cooks)


def how_many_of_measure(measure: Measure, request: HowManyRequest, arms: int = 2) -> HowMany:
    """Return the table for one measure that no trial has yet."""
    return _table(measure, request, arms, ())


def _table(
    measure: Measure, request: HowManyRequest, arms: int, learnt: tuple[Learnt, ...]
) -> HowMany:
    block = Block(
        arms=arms,
        each=request.each,
        per_cook=request.per_cook or 1,
        positions=request.positions,
        from_one="parent" if request.halves else "",
        whole=bool(request.whole_cooks),
    )
    means = Means(
        block=block,
        most=request.most,
        sure=0.95 if request.sure is None else request.sure,
        prices=request.prices,
        panel=_panel(measure, request),
        measuring_sd=_difference(measure, request.measuring) if request.measuring else 0.0,
        truths=(0.0, *(_difference(measure, t) for t in request.true)) if request.true else None,
        learnt=learnt,
    )
    if request.usual_time and measure.kind in TIMES:
        means = replace(means, usual_time_s=parse_duration(request.usual_time))
    return how_many(measure, means)


def _panel(measure: Measure, request: HowManyRequest) -> Panel | None:
    if measure.kind is not MeasureKind.SCORE or request.tasters is None:
        return None
    return Panel(request.tasters, request.repeats, request.answer_sd, request.taster_by_method_sd)


def _difference(measure: Measure, text: str) -> float:
    """Read a difference of a measure as its own worthwhile difference would be read."""
    content = {**measure.model_dump(), "worthwhile": text}
    try:
        return Measure.model_validate(content).worthwhile
    except ValidationError as error:
        message = N_(
            "“%(said)s” for “%(measure)s”: %(why)s",
            said=text,
            measure=measure.name,
            why=message_of(error),
        )
        raise JobError(message) from error


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
    if kind not in list(MeasureKind):
        message = N_(
            "“%(kind)s” is no kind of measure; there are %(kinds)s",
            kind=kind,
            kinds=Listed([str(one) for one in MeasureKind]),
        )
        raise JobError(message, field="of")
    if kind == MeasureKind.SCORE or scale:
        try:
            content |= {"scale_low": float(low), "scale_high": float(high)}
        except ValueError as error:
            message = N_(
                "the ends of the scale (%(field)s), “%(said)s”: write it as “1 to 9”",
                field=InputField("scale"),
                said=scale,
            )
            raise JobError(message, field="scale") from error
    try:
        return Measure.model_validate(content)
    except ValidationError as error:
        raise JobError(message_of(error)) from error


def how_many_key(notebook: Notebook, trial_id: str, request: HowManyRequest) -> ResultKey:
    """Return the key of all that the tables rest on: also what other trials taught of spreads."""
    recorded = past_digests(notebook, (trial_id, *earlier_trials(notebook, trial_id)))
    content = {"trial": trial_id, "request": asdict(request), "recorded": recorded}
    program = program_digest("planning", "judging", "design", "telling", "trial")
    return ResultKey.of("how-many", content, program)


def how_many_content(
    notebook: Notebook,
    trial_id: str,
    request: HowManyRequest,
    progress: Progress,
    store: Store | None = None,
) -> dict[str, Any]:
    """Return the document of a trial's tables as it is kept, and the curves of its answers.

    Raises JobError, PlanError and ComparisonError for what cannot be planned.
    """
    record = notebook.load_trial(trial_id, lazy=True)
    past = past_of(notebook, trial_id, store)
    found = how_many_of_trial(record, past, request, progress=progress)
    document = how_many_document(found, with_trial(record, request).pairs)
    return {
        "answers": to_json(document.answers),
        "details": to_json(document.details),
        "curves": [curve_of(group[0])._asdict() for group in alike(found)],
        "aim": AIM,
    }
