"""Judge a whole trial: from its record to the finding."""

from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.conduct import conduct_of
from fairsmoke.judging.counterparts import LEVEL, Comparable
from fairsmoke.judging.design import Layout
from fairsmoke.judging.difference import Judged, difference_of
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.finding import Finding, Interval, MeasureFinding, SpreadFound
from fairsmoke.judging.left_out import left_out_of
from fairsmoke.judging.mixture import Posterior
from fairsmoke.judging.model import Comparison, compare
from fairsmoke.judging.modelling import TIMES, Scaling, priors_for, scaling_for
from fairsmoke.judging.responses import Responses, responses_of
from fairsmoke.judging.who_got_what import blocks_of, factors_of
from fairsmoke.trial.question import Measure
from fairsmoke.trial.record import TrialRecord
from fairsmoke.weighing import LedgerError, Solution, solve_ledger

IntArray = NDArray[np.intp]

SPREAD_TIMES = (0.5, 1.0, 2.0)
"""What the piece-to-piece spread is multiplied by in the sensitivity line."""


def judge(record: TrialRecord, *, made: datetime, seed: int = 0) -> Finding:
    """Judge a trial.

    ``made`` is the moment that the finding carries; ``seed`` that of the ledger's Monte Carlo.
    The same record, moment and seed give the same finding. Raises ComparisonError, naming every
    place, when the record does not fit together or nothing was cooked.
    """
    problems = record.problems()
    if problems:
        raise ComparisonError("the record does not fit together:\n- " + "\n- ".join(problems))
    if not record.units:
        raise ComparisonError(
            f"trial '{record.trial.id}' has no piece with an arm yet; record which piece got which"
        )
    ledger, problem = _solved(record, seed)
    main = record.trial.main_measure
    ordered = [main, *(m for m in record.trial.measures if m is not main)]
    measures = tuple(_judge_measure(record, measure, ledger) for measure in ordered)
    return Finding(
        record=record,
        made=made,
        measures=measures,
        ledger=ledger,
        ledger_problem=problem,
        conduct=conduct_of(record),
        left_out=tuple(left_out_of(record, measures)),
        exploratory=record.registration is None,
    )


def _solved(record: TrialRecord, seed: int) -> tuple[Solution | None, str]:
    if not record.weighings:
        return None, "Nothing was weighed."
    try:
        return solve_ledger(record.weighings, record.scales, record.estimates, seed=seed), ""
    except LedgerError as error:
        return None, str(error)


def _judge_measure(
    record: TrialRecord, measure: Measure, ledger: Solution | None
) -> MeasureFinding:
    responses = responses_of(record, measure, ledger)
    arms = tuple(arm.id for arm in record.trial.arms)
    arm = np.array([arms.index(piece.arm or "") for piece in record.units], dtype=np.intp)
    empty = [a for i, a in enumerate(arms) if np.isnan(responses.values[arm == i]).all()]
    if empty:
        note = f"No piece of {' or of '.join(repr(a) for a in empty)} has a value, so there is "
        return _unanswered(responses, note + "nothing to compare.")
    try:
        return _answered(record, responses, arm, arms, ledger)
    except ComparisonError as error:
        return _unanswered(responses, f"This measure cannot be judged: {error}")


def _unanswered(responses: Responses, note: str) -> MeasureFinding:
    return MeasureFinding(
        measure=responses.measure,
        responses=responses,
        arm_levels=(),
        differences=(),
        spreads=(),
        prior_lines=(),
        notes=(note, *responses.notes),
    )


def _answered(
    record: TrialRecord,
    responses: Responses,
    arm: IntArray,
    arms: tuple[str, ...],
    ledger: Solution | None,
) -> MeasureFinding:
    measure = responses.measure
    scaling = scaling_for(measure, responses.values)
    values = scaling.values(responses.values)
    factors = factors_of(record)
    priors = priors_for(measure, responses.values, scaling, factors)
    layout = Layout(arm, arms, factors)
    known = scaling.covariance(responses.values, responses.known_cov)
    compared = compare(values, layout, priors, measurement_cov=known)
    data = Comparable(values, arm, blocks_of(record), factors, record.trial.draw.how == "drawn")

    def at_spread(times: float) -> Comparison:
        return compare(values, layout, priors.with_piece_times(times), measurement_cov=known)

    halved = {times: compared if times == 1.0 else at_spread(times) for times in SPREAD_TIMES}
    judged = Judged(record, responses, scaling, known, data, compared, halved)
    differences = tuple(difference_of(judged, number, ledger) for number in range(1, len(arms)))
    return MeasureFinding(
        measure=measure,
        responses=responses,
        arm_levels=tuple((a, _level(compared.arm_level(a), measure)) for a in arms),
        differences=differences,
        spreads=tuple(_spreads(compared, scaling)),
        prior_lines=tuple(priors.described()),
        notes=(*(found.sentence for found in compared.not_separable), *responses.notes),
    )


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
