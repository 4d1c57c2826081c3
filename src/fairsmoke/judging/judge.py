"""Judge a whole trial: from its record to the finding."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.caveats import mix_ups, plain_notes
from fairsmoke.judging.conduct import conduct_of
from fairsmoke.judging.counterparts import LEVEL, Comparable
from fairsmoke.judging.design import Layout
from fairsmoke.judging.deviations import deviations_of, is_late
from fairsmoke.judging.difference import Judged, difference_of
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.finding import Finding, Interval, MeasureFinding, SpreadFound
from fairsmoke.judging.left_out import left_out_of
from fairsmoke.judging.mixture import Posterior
from fairsmoke.judging.model import Comparison, compare
from fairsmoke.judging.modelling import Scaling, priors_for, scaling_for
from fairsmoke.judging.responses import Responses, responses_of
from fairsmoke.judging.who_got_what import blocks_of, even_draw_of, factors_of
from fairsmoke.quantity import METRIC, Units
from fairsmoke.trial.question import TIMES, Measure
from fairsmoke.trial.record import TrialRecord
from fairsmoke.weighing import Known, PartSolved, Solution, solve_what_can_be

IntArray = NDArray[np.intp]

SPREAD_TIMES = (0.5, 1.0, 2.0)
"""What the piece-to-piece spread is multiplied by in the sensitivity line."""


def judge(record: TrialRecord, *, made: datetime, seed: int = 0, units: Units = METRIC) -> Finding:
    """Judge a trial.

    ``made`` is the moment that the finding carries; ``seed`` that of the ledger's Monte Carlo;
    ``units`` are those in which weighings that cannot be true are told.
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
    weighed = _solved(record, seed, units)
    main = record.trial.main_measure
    ordered = [main, *(m for m in record.trial.measures if m is not main)]
    measures = tuple(_judge_measure(record, measure, weighed) for measure in ordered)
    return Finding(
        record=record,
        made=made,
        measures=measures,
        ledger=weighed.solution,
        ledger_problem=weighed.problem,
        ledger_aside=tuple(piece.id for piece in record.pieces if piece.id in weighed.aside),
        remarks=tuple(map(str, record.remarks())),
        conduct=conduct_of(record),
        left_out=tuple(left_out_of(record, measures)),
        exploratory=record.registration is None or is_late(record),
        deviations=deviations_of(record),
    )


def _solved(record: TrialRecord, seed: int, units: Units) -> PartSolved:
    if not record.weighings:
        return PartSolved(None, "", {})
    return solve_what_can_be(
        record.weighings, record.scales, record.estimates, seed=seed, units=units
    )


def _judge_measure(record: TrialRecord, measure: Measure, weighed: PartSolved) -> MeasureFinding:
    responses = responses_of(record, measure, weighed.solution, weighed.aside)
    having = {
        piece.arm
        for piece, row in zip(record.units, responses.rows, strict=True)
        if row.value is not None
    }
    arms = [arm.id for arm in record.trial.arms if arm.id in having]
    empty = [arm for arm in record.trial.arms if arm.id not in having]
    note = f"No piece of {' or of '.join(f'“{arm.name}”' for arm in empty)} has a value"
    if len(arms) < 2:
        return _unanswered(record, responses, f"{note}, so there is nothing to compare.")
    if empty:
        responses = replace(responses, notes=(f"{note} yet.", *responses.notes))
    # Arms without a value come last, so that the numbers of the others are their places.
    places = {name: at for at, name in enumerate([*arms, *(arm.id for arm in empty)])}
    arm = np.array([places[piece.arm or ""] for piece in record.units], dtype=np.intp)
    try:
        return _answered(record, responses, arm, tuple(arms), weighed.solution)
    except ComparisonError as error:
        return _unanswered(record, responses, f"This measure cannot be judged: {error}")


def _open_values(record: TrialRecord, responses: Responses) -> Iterator[str]:
    """Yield a line for each value that nothing pins down, whatever else is known of it."""
    for piece, row in zip(record.units, responses.rows, strict=True):
        if row.caution and row.note == Known.BOUNDED:
            yield f"The {responses.measure.name.lower()} of {piece.name} is open: {row.caution}."


def _unanswered(record: TrialRecord, responses: Responses, note: str) -> MeasureFinding:
    return MeasureFinding(
        measure=responses.measure,
        responses=responses,
        arm_levels=(),
        differences=(),
        spreads=(),
        prior_lines=(),
        notes=(note, *responses.notes),
        caveats=tuple(_open_values(record, responses)),
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
    # The model leaves out pieces without a value; theirs may be of an arm that it does not have.
    layout = Layout(np.where(arm < len(arms), arm, 0), arms, factors)
    known = scaling.covariance(responses.values, responses.known_cov)
    compared = compare(values, layout, priors, measurement_cov=known)
    numbers = [*arms, *(one.id for one in record.trial.arms if one.id not in arms)]
    even = even_draw_of(record, {name: number for number, name in enumerate(numbers)})
    drawn = record.trial.draw.how == "drawn"
    data = Comparable(values, arm, blocks_of(record), factors, drawn, even)

    def at_spread(times: float) -> Comparison:
        return compare(values, layout, priors.with_piece_times(times), measurement_cov=known)

    halved = {times: compared if times == 1.0 else at_spread(times) for times in SPREAD_TIMES}
    judged = Judged(record, responses, scaling, known, data, compared, halved)
    told = mix_ups(record, (~np.isnan(responses.values)).tolist())
    return MeasureFinding(
        measure=measure,
        responses=responses,
        arm_levels=tuple((a, _level(compared.arm_level(a), measure)) for a in arms),
        differences=tuple(
            difference_of(judged, number, ledger, against=against)
            for against, number in combinations(range(len(arms)), 2)
        ),
        spreads=tuple(_spreads(compared, scaling)),
        prior_lines=tuple(priors.described()),
        notes=(*plain_notes(compared.not_separable, told), *responses.notes),
        caveats=(*(one.sentence for one in told), *_open_values(record, responses)),
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
