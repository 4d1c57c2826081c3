"""Judge a whole trial: from its record to the finding."""

import math
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.analyses import Analyses
from fairsmoke.judging.caveats import mix_ups, plain_notes
from fairsmoke.judging.conduct import conduct_of
from fairsmoke.judging.confounded import Confounded, arm_covariance, layout_gaps, panel_gaps
from fairsmoke.judging.counterparts import LEVEL, Comparable
from fairsmoke.judging.design import ComparisonLayout
from fairsmoke.judging.deviations import deviations_of, is_late
from fairsmoke.judging.difference import Judged, difference_of
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.finding import (
    Difference,
    Finding,
    Interval,
    MeasureFinding,
    SpreadFound,
    VerdictFound,
)
from fairsmoke.judging.left_out import left_out_of
from fairsmoke.judging.mixture import Posterior
from fairsmoke.judging.model import Comparison, compare
from fairsmoke.judging.modelling import Believed, believed_of
from fairsmoke.judging.past import Learnt, Taught, begins, learnt_of, meat_of
from fairsmoke.judging.priors import FloatArray, Priors
from fairsmoke.judging.registered_rule import Binding, binding_of
from fairsmoke.judging.remark import Caveat, CaveatKind
from fairsmoke.judging.responses import Responses, responses_of
from fairsmoke.judging.rule import Lean, VerdictKind
from fairsmoke.judging.scaling import Scaling, scaling_for
from fairsmoke.judging.unstated import figure_remarks, figure_variances, scales_as_judged
from fairsmoke.judging.waiting import Waiting, waiting_of
from fairsmoke.judging.who_got_what import (
    blocks_of,
    even_draw_of,
    factors_of,
    whole_cooks_of,
)
from fairsmoke.messages.message import N_, Listed, Message
from fairsmoke.trial.question import TIMES, Measure, MeasureKind
from fairsmoke.trial.record import TrialRecord
from fairsmoke.weighing import PartSolved, solve_what_can_be

IntArray = NDArray[np.intp]

_OPEN = np.array([-np.inf, np.inf])
"""Bounds that say nothing."""


def judge(
    record: TrialRecord,
    *,
    made: datetime,
    seed: int = 0,
    past: tuple[Taught, ...] = (),
) -> Finding:
    """Judge a trial.

    ``past`` is what the notebook's other trials taught of spreads: what those said that were
    cooked before this one, of the same measure and meat, is used. ``made`` is the moment that the
    finding carries; ``seed`` that of the ledger's Monte Carlo.
    The same record, moment and seed give the same finding. Raises ComparisonError, naming every
    place, when the record does not fit together or nothing was cooked.
    """
    problems = record.problems()
    if problems:
        raise ComparisonError(
            "the record does not fit together:\n- " + "\n- ".join(map(str, problems))
        )
    if not record.units:
        raise ComparisonError(
            f"trial '{record.trial.id}' has no piece with an arm yet; record which piece got which"
        )
    waiting = waiting_of(record)
    weighed = _solved(record, waiting, seed)
    begin = begins(record)
    earlier = tuple(one for one in past if one.begins < begin)
    main = record.trial.main_measure
    ordered = [main, *(m for m in record.trial.measures if m is not main)]
    seen = _Seen(weighed, earlier, binding_of(record), waiting)
    measures = tuple(_judge_measure(record, measure, seen) for measure in ordered)
    return Finding(
        record=record,
        made=made,
        measures=measures,
        ledger=weighed.solution,
        ledger_problems=weighed.problems,
        ledger_aside=tuple(piece.id for piece in record.pieces if piece.id in weighed.aside),
        remarks=tuple(map(str, record.remarks())),
        conduct=conduct_of(record),
        left_out=tuple(left_out_of(record, measures)),
        exploratory=record.registration is None or is_late(record),
        deviations=deviations_of(record),
        waiting=waiting,
    )


@dataclass(frozen=True)
class _Seen:
    """What every measure of a trial is judged with."""

    weighed: PartSolved
    past: tuple[Taught, ...]
    binding: Binding
    waiting: tuple[Waiting, ...]

    def bound(self, measure: Measure) -> Measure:
        """Return the measure as it binds."""
        return self.binding.measures.get(measure.id, measure)

    def changed(self, measure: Measure) -> bool:
        """Tell whether the measure or the rule was changed after the first result."""
        return bool({measure.id, "verdict"} & self.binding.changed)


def _solved(record: TrialRecord, waiting: tuple[Waiting, ...], seed: int) -> PartSolved:
    """Solve the ledger of the pieces that wait for no weighing."""
    doubted = {one.handle for one in waiting if one.kind == "weighing"}
    held = {piece for one in waiting if one.kind == "weighing" for piece in one.pieces}
    weighings = [w for w in record.weighings if w.id not in doubted and w.piece not in held]
    if not weighings:
        return PartSolved(None, (), {})
    estimates = [one for one in record.estimates if one.piece not in held]
    arms = {piece.id: piece.arm for piece in record.pieces if piece.arm}
    scales = scales_as_judged(record).scales
    return solve_what_can_be(weighings, scales, estimates, arms=arms, seed=seed)


def _judge_measure(record: TrialRecord, measure: Measure, seen: _Seen) -> MeasureFinding:
    weighed = seen.weighed
    bound = seen.bound(measure)
    responses = responses_of(record, bound, weighed.solution, weighed.aside, seen.waiting)
    having = {
        piece.arm
        for piece, row in zip(record.units, responses.rows, strict=True)
        if row.value is not None or row.censored
    }
    arms = [arm.id for arm in record.trial.arms if arm.id in having]
    empty = [arm for arm in record.trial.arms if arm.id not in having]
    gone = Listed([f"“{arm.name}”" for arm in empty], "or")
    if len(arms) < 2:
        note = N_("No piece of %(arms)s has a value, so there is nothing to compare.", arms=gone)
        return _unanswered(record, responses, note)
    if empty:
        note = N_("No piece of %(arms)s has a value yet.", arms=gone)
        responses = replace(responses, notes=(note, *responses.notes))
    # Arms without a value come last, so that the numbers of the others are their places.
    places = {name: at for at, name in enumerate([*arms, *(arm.id for arm in empty)])}
    arm = np.array([places[piece.arm or ""] for piece in record.units], dtype=np.intp)
    try:
        return _answered(record, responses, arm, tuple(arms), seen, measure)
    except ComparisonError as error:
        note = N_("This measure cannot be judged: %(why)s", why=error.message)
        return _unanswered(record, responses, note)


def _open_values(record: TrialRecord, responses: Responses) -> Iterator[Message]:
    """Yield a line for each value that nothing pins down, whatever else is known of it."""
    for piece, row in zip(record.units, responses.rows, strict=True):
        if row.caution and row.bounded:
            yield N_(
                "%(measure)s of %(piece)s is open: %(caution)s.",
                measure=responses.measure.name,
                piece=piece.name,
                caution=row.caution,
            )


def _unanswered(record: TrialRecord, responses: Responses, note: Message) -> MeasureFinding:
    return MeasureFinding(
        measure=responses.measure,
        responses=responses,
        arm_levels=(),
        differences=(),
        spreads=(),
        prior_lines=(),
        notes=(note, *responses.notes),
        caveats=tuple(_open_values(record, responses)),
        remarks=responses.remarks,
    )


def _answered(
    record: TrialRecord,
    responses: Responses,
    arm: IntArray,
    arms: tuple[str, ...],
    seen: _Seen,
    now: Measure,
) -> MeasureFinding:
    """Judge by the question that binds; ``now`` is the measure as it stands."""
    measure, ledger = responses.measure, seen.weighed.solution
    if not any(row.value is not None for row in responses.rows):
        raise ComparisonError(N_("no piece was seen to reach it"))
    scaling = scaling_for(measure, responses.values)
    values = scaling.values(responses.values)
    factors = factors_of(record)
    learnt = learnt_of(measure, seen.past, meat_of(record))
    censored = responses.censored
    used = (~np.isnan(responses.values) | censored).tolist()
    gaps = [*layout_gaps(record, used), *panel_gaps(record, measure)]
    unknown = [gap.factor for gap in gaps if gap.factor]
    factors = {name: labels for name, labels in factors.items() if name not in unknown}

    def before(learnt: Sequence[Learnt]) -> Believed:
        names = (*factors, *unknown)
        return believed_of(measure, responses.values, scaling, names, arm=arm, learnt=learnt)

    believed = before(learnt)
    priors = believed.priors
    # The model leaves out pieces without a value; theirs may be of an arm that it does not have.
    layout = ComparisonLayout(np.where(arm < len(arms), arm, 0), arms, factors)
    measured = scaling.covariance(responses.values, responses.known_cov)
    known = measured + _not_recorded(record, measure, arm, gaps, priors)
    bounds = None
    if censored.any():
        with np.errstate(divide="ignore"):
            bounds = np.where(censored[:, None], scaling.values(responses.bounds), _OPEN)
    analyses = Analyses.of(values, layout, priors, known, bounds)
    compared = analyses.usual
    numbers = [*arms, *(one.id for one in record.trial.arms if one.id not in arms)]
    even = even_draw_of(record, {name: number for number, name in enumerate(numbers)})
    drawn = record.trial.draw.how == "drawn"
    whole = whole_cooks_of(record)
    data = Comparable(values, arm, blocks_of(record), factors, drawn, even, whole, censored)

    halved = compare(
        values, layout, priors.with_piece_times(0.5), measurement_cov=known, bounds=bounds
    )
    judged = Judged(
        record,
        responses,
        scaling,
        known,
        data,
        analyses,
        halved,
        seen.binding.rule,
        (now, record.trial.verdict) if seen.changed(now) else None,
        None,
    )
    if believed.spread_from.kind is CaveatKind.SPREAD_PAST:
        with suppress(ComparisonError):
            untaught = before(()).priors
            own = measured + _not_recorded(record, measure, arm, gaps, untaught)
            judged = replace(judged, untaught=Analyses.of(values, layout, untaught, own, bounds))
    told = mix_ups(record, used)
    return MeasureFinding(
        measure=measure,
        responses=responses,
        arm_levels=tuple((a, _level(compared.arm_level(a), measure)) for a in arms),
        differences=tuple(
            _unless_waiting(difference_of(judged, number, ledger, against=against), responses.waits)
            for against, number in combinations(range(len(arms)), 2)
        ),
        spreads=tuple(_spreads(compared, scaling)),
        prior_lines=tuple(priors.described()),
        notes=(*plain_notes(compared.not_separable, told), *responses.notes),
        caveats=(*(one.sentence for one in told), *_open_values(record, responses)),
        remarks=(
            believed.spread_from,
            *(gap.remark for gap in gaps if gap.remark is not None),
            *(scales_as_judged(record).remarks if measure.kind is MeasureKind.YIELD else ()),
            *figure_remarks(figure_variances(record, measure, priors.piece.quantile(0.5))),
            *responses.remarks,
            *_whole_cooks(record, whole),
            *_odd_pieces(record, compared),
            *_several(record, len(arms)),
        ),
    )


def _unless_waiting(found: Difference, waits: bool) -> Difference:
    """Return a difference with nothing settled where a doubted entry is left out of it."""
    if not waits:
        return found
    amended = found.as_amended
    return replace(
        found,
        verdict=_unsettled(found.verdict),
        as_amended=None if amended is None else _unsettled(amended),
    )


def _unsettled(verdict: VerdictFound) -> VerdictFound:
    lean = Lean.LEANING if verdict.lean is Lean.SETTLED else verdict.lean
    word = VerdictKind.NOT_SETTLED
    return replace(verdict, word=word, winner="", lean=lean, settled_below=None, waits=True)


def _not_recorded(
    record: TrialRecord,
    measure: Measure,
    arm: IntArray,
    gaps: Sequence[Confounded],
    priors: Priors,
) -> FloatArray:
    """Return what was not recorded adds to the covariance of the values (n, n)."""
    found = np.diag(figure_variances(record, measure, priors.piece.quantile(0.5)))
    for gap in gaps:
        own = gap.variance
        found = found + arm_covariance(
            arm, priors.group(gap.factor).mean_square() if own is None else own
        )
    return np.asarray(found, dtype=np.float64)


def _whole_cooks(record: TrialRecord, whole: IntArray | None) -> Iterator[Caveat]:
    if whole is not None:
        yield Caveat(CaveatKind.WHOLE_COOKS, (), (float(len(np.unique(whole))),))


def _several(record: TrialRecord, arms: int) -> Iterator[Caveat]:
    """Yield how many comparisons there are, and the most that one of them settles wrongly."""
    count = math.comb(arms, 2) * len(record.trial.measures)
    if count > 1:
        joint = min(1.0, count * (1.0 - record.trial.verdict.sure))
        yield Caveat(CaveatKind.SEVERAL_COMPARISONS, (), (float(count), joint))


ODD_FROM = 0.5
"""Probability of being odd from which a piece is named."""


def _odd_pieces(record: TrialRecord, compared: Comparison) -> Iterator[Caveat]:
    used = np.flatnonzero(compared.used)
    for at, chance in zip(used, compared.odd, strict=False):
        if chance >= ODD_FROM:
            yield Caveat(CaveatKind.ODD_PIECE, (record.units[at].name,), (float(chance),))


def _level(posterior: Posterior, measure: Measure) -> Interval:
    low, high = posterior.interval(LEVEL)
    values = np.array([posterior.mean, low, high])
    mean, low, high = np.exp(values) if measure.kind in TIMES else values
    return Interval(float(mean), float(low), float(high), LEVEL)


def _spreads(compared: Comparison, scaling: Scaling) -> list[SpreadFound]:
    found: list[SpreadFound] = []
    for name in ("piece", *compared.layout.factors):
        prior = compared.priors.piece if name == "piece" else compared.priors.group(name)
        now = compared.spread(name)
        low, high = now.interval(LEVEL)
        out = scaling.difference_out
        before = Interval(
            out(prior.quantile(0.5)), out(prior.quantile(0.025)), out(prior.quantile(0.975)), LEVEL
        )
        found.append(SpreadFound(name, before, Interval(out(now.mean), out(low), out(high), LEVEL)))
    return found
