"""Judge a whole trial: from its record to the finding."""

from collections.abc import Callable
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.conduct import conduct_of
from fairsmoke.judging.counterparts import (
    LEVEL,
    Comparable,
    block_differences,
    complete_pairs,
    counterparts,
)
from fairsmoke.judging.design import Layout
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.finding import (
    Difference,
    Finding,
    Interval,
    LeftOut,
    MeasureFinding,
    OnePair,
    SensitivityRow,
    SpreadFound,
    VerdictFound,
)
from fairsmoke.judging.mixture import Posterior
from fairsmoke.judging.model import Comparison, compare
from fairsmoke.judging.modelling import TIMES, Scaling, priors_for, scaling_for
from fairsmoke.judging.responses import Responses, responses_of
from fairsmoke.judging.traces import flag_counts
from fairsmoke.judging.verdict import (
    Direction,
    Verdict,
    VerdictKind,
    one_pair_note,
    verdict,
)
from fairsmoke.trial.cook import Piece
from fairsmoke.trial.question import Better, Measure, MeasureKind
from fairsmoke.trial.reading import NOT_BELIEVED, Flag
from fairsmoke.trial.record import TrialRecord
from fairsmoke.weighing import LedgerError, Solution, compare_yields, solve_ledger

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

SPREAD_TIMES = (0.5, 1.0, 2.0)
"""What the piece-to-piece spread is multiplied by in the sensitivity line."""

_DIRECTIONS = {
    Better.HIGHER: Direction.HIGHER,
    Better.LOWER: Direction.LOWER,
    Better.NEITHER: Direction.NEITHER,
}

_DENSITY_POINTS = 161


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
        left_out=tuple(_left_out(record, measures)),
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

    halved = [(times, compared if times == 1.0 else at_spread(times)) for times in SPREAD_TIMES]
    differences = tuple(
        _difference(record, responses, compared, halved, data, known, scaling, number, ledger)
        for number in range(1, len(arms))
    )
    return MeasureFinding(
        measure=measure,
        responses=responses,
        arm_levels=tuple((a, _level(compared.arm_level(a), measure)) for a in arms),
        differences=differences,
        spreads=tuple(_spreads(compared, scaling)),
        prior_lines=tuple(priors.described()),
        notes=(*(found.sentence for found in compared.not_separable), *responses.notes),
    )


def factors_of(record: TrialRecord) -> dict[str, IntArray]:
    """Return the grouping factors that the units share levels of, as labels (n,) by name.

    Pieces of which a factor is not known get a level of their own. Positions count even when no
    two pieces shared one: they differ, and that is part of how unsure the answer is.
    """
    units = record.units
    wanted: dict[str, Callable[[Piece], str | None]] = {
        "cook": lambda piece: piece.cook,
        "animal": lambda piece: piece.animal,
        "parent": lambda piece: piece.half_of,
        "position": lambda piece: piece.spot.text if piece.spot else None,
    }
    found: dict[str, IntArray] = {}
    for name, key in wanted.items():
        named = [key(piece) for piece in units]
        labels = [value or f"(own) {piece.id}" for value, piece in zip(named, units, strict=True)]
        levels, numbers = np.unique(labels, return_inverse=True)
        told = any(value is not None for value in named)
        if told and len(levels) > 1 and (name == "position" or len(levels) < len(units)):
            found[name] = numbers.astype(np.intp)
    return found


def blocks_of(record: TrialRecord) -> IntArray:
    """Return the blocks within which arms were drawn, as labels (n,); own blocks where unknown."""
    within = record.trial.draw.within
    key: dict[str, Callable[[Piece], str | None]] = {
        "pair": lambda piece: piece.pair,
        "cook": lambda piece: piece.cook,
        "whole piece": lambda piece: piece.half_of,
        "trial": lambda _: record.trial.id,
    }
    labels = [key[within](piece) or f"(own) {piece.id}" for piece in record.units]
    return np.unique(labels, return_inverse=True)[1].astype(np.intp)


def _difference(
    record: TrialRecord,
    responses: Responses,
    compared: Comparison,
    halved: list[tuple[float, Comparison]],
    data: Comparable,
    known: FloatArray,
    scaling: Scaling,
    number: int,
    ledger: Solution | None,
) -> Difference:
    measure, base = responses.measure, compared.layout.arm_names[0]
    arm = compared.layout.arm_names[number]
    worthwhile = scaling.difference_in(measure.worthwhile)
    posterior = compared.difference(arm, base)
    each = block_differences(data, 0, number)
    observed = float(np.nanmean(each)) if np.any(~np.isnan(each)) else None
    names = (_arm_name(record, arm), _arm_name(record, base))
    found = verdict(
        posterior,
        arm,
        base,
        direction=_DIRECTIONS[measure.better],
        worthwhile=worthwhile,
        sure=record.trial.verdict.sure,
    )
    return Difference(
        arm=arm,
        base=base,
        observed=None if observed is None else scaling.difference_out(observed),
        believed=_out(posterior, scaling),
        density=_density(posterior, scaling),
        ratio=_ratio(compared, arm, base, measure),
        verdict=_in_fixed_words(found, names, record.trial.verdict.sure),
        shares=tuple(compared.variance_shares(arm, base).items()),
        sensitivity=tuple(
            _sensitivity(times, found.difference(arm, base), worthwhile, scaling)
            for times, found in halved
        ),
        classical=tuple(counterparts(data, 0, number, scaling)),
        one_pair=_one_pair(
            compared, data, known, scaling, number, worthwhile, record.trial.verdict.sure
        ),
        notes=tuple(_scale_notes(record, responses, arm, base, ledger)),
    )


def _arm_name(record: TrialRecord, handle: str) -> str:
    return record.trial.arm(handle).name


def _out(posterior: Posterior, scaling: Scaling) -> Interval:
    low, high = posterior.interval(LEVEL)
    out = scaling.difference_out
    return Interval(out(posterior.mean), out(low), out(high), LEVEL)


def _density(posterior: Posterior, scaling: Scaling) -> tuple[tuple[float, float], ...]:
    inside = np.linspace(posterior.quantile(5e-4), posterior.quantile(1 - 5e-4), _DENSITY_POINTS)
    shown = np.array([scaling.difference_out(float(x)) for x in inside])
    # Stretching the axis thins the curve by as much, so that areas stay probabilities.
    height = posterior.density(inside) / np.gradient(shown, inside)
    return tuple(zip(shown.tolist(), height.tolist(), strict=True))


def _ratio(compared: Comparison, arm: str, base: str, measure: Measure) -> Interval | None:
    if measure.kind in TIMES:
        found = compared.difference(arm, base)
        low, high = np.exp(found.interval(LEVEL))
        return Interval(float(np.exp(found.quantile(0.5))), float(low), float(high), LEVEL)
    if measure.kind is MeasureKind.SCORE:
        # The nought of a scale of liking is a convention, so a ratio of scores says nothing.
        return None
    try:
        ratio = compared.ratio(arm, base)
    except ComparisonError:
        return None
    low, high = ratio.interval(LEVEL)
    return Interval(ratio.quantile(0.5), float(low), float(high), LEVEL)


def _level(posterior: Posterior, measure: Measure) -> Interval:
    low, high = posterior.interval(LEVEL)
    values = np.array([posterior.mean, low, high])
    mean, low, high = np.exp(values) if measure.kind in TIMES else values
    return Interval(float(mean), float(low), float(high), LEVEL)


def _sensitivity(
    times: float, posterior: Posterior, worthwhile: float, scaling: Scaling
) -> SensitivityRow:
    return SensitivityRow(
        times=times,
        difference=_out(posterior, scaling),
        better_by_enough=posterior.prob_greater(worthwhile),
        worse_by_enough=posterior.cdf(-worthwhile),
    )


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


def _in_fixed_words(found: Verdict, names: tuple[str, str], sure: float) -> VerdictFound:
    """Say the verdict of arm against base in words that are the same for every measure."""
    arm, base = names
    chances = [
        found.probabilities[k] for k in (found.first_key, found.within_key, found.second_key)
    ]
    winner = "" if found.arm is None else (arm if chances[0] > chances[2] else base)
    if found.kind is VerdictKind.NOT_SETTLED:
        sentence = f"Not settled: more cooks of “{arm}” and “{base}” are needed to be sure."
    elif found.kind is VerdictKind.NO_DIFFERENCE:
        sentence = f"No difference that matters between “{arm}” and “{base}”"
    else:
        sentence = f"“{winner}” is {found.kind}, by enough to matter"
    if found.kind is not VerdictKind.NOT_SETTLED:
        sentence += f" (at least {100 * sure:g} % sure)."
    quality = "higher" if found.kind is VerdictKind.HIGHER else "better"
    return VerdictFound(
        word=found.kind,
        winner=winner,
        sentence=sentence,
        better_by_enough=chances[0],
        no_difference=chances[1],
        worse_by_enough=chances[2],
        labels=(
            f"“{arm}” is {quality} by enough to matter",
            "the difference is too small to matter",
            f"“{base}” is {quality} by enough to matter",
        ),
    )


def _one_pair(
    compared: Comparison,
    data: Comparable,
    known: FloatArray,
    scaling: Scaling,
    number: int,
    worthwhile: float,
    sure: float,
) -> OnePair | None:
    """Say what one pair can tell when there is just one, from the two pieces as they stood."""
    pairs = complete_pairs(data, 0, number)
    if len(pairs) != 1:
        return None
    first, second = pairs[0]
    factors = compared.layout.factors
    found = one_pair_note(
        1,
        compared.priors,
        worthwhile,
        apart=[name for name, labels in factors.items() if labels[first] != labels[second]],
        sure=sure,
        measurement_sd=float(np.sqrt((known[first, first] + known[second, second]) / 2)),
    )
    out = scaling.difference_out
    return OnePair(
        half=out(found.half_of_the_time),
        rarely=out(found.one_in_twenty),
        settles=None if found.settles is None else out(found.settles),
        can_settle_no_difference=found.can_settle_no_difference,
    )


def _scale_notes(
    record: TrialRecord, responses: Responses, arm: str, base: str, ledger: Solution | None
) -> list[str]:
    """For each block with one piece of either arm: is the difference more than scales can tell?"""
    if ledger is None or responses.measure.kind is not MeasureKind.YIELD:
        return []
    values = {row.piece: row.value for row in responses.rows}
    blocks = dict(zip((p.id for p in record.units), blocks_of(record).tolist(), strict=True))
    notes: list[str] = []
    for first in record.units:
        partners = [p for p in record.units if p.arm == base and blocks[p.id] == blocks[first.id]]
        if first.arm != arm or len(partners) != 1:
            continue
        if values[first.id] is None or values[partners[0].id] is None:
            continue
        found = compare_yields(ledger, first.id, partners[0].id, responses.measure.state)
        notes.append(f"{first.name} and {partners[0].name}: {found.sentence}")
    return notes


def _left_out(record: TrialRecord, measures: tuple[MeasureFinding, ...]) -> list[LeftOut]:
    found = [
        LeftOut(f"rows of {source.file_name}", source.rows_bad, source.rows_read, "unreadable")
        for source in record.sources
        if source.rows_bad
    ]
    found += _not_believed(record)
    for exclusion in record.exclusions:
        if exclusion.piece is not None:
            what = f"piece {exclusion.piece}" + (f", {exclusion.measure}" * bool(exclusion.measure))
            found.append(LeftOut(what, 1, None, exclusion.why))
    for measure in measures:
        for row in measure.responses.rows:
            if row.value is None and not row.note.startswith("left out"):
                name = f"{measure.measure.name} of {row.piece}"
                found.append(LeftOut(name, 1, None, row.note))
    return found


def _not_believed(record: TrialRecord) -> list[LeftOut]:
    """One line for each cook, kind of reading and reason, whichever probes it concerns."""
    totals: dict[tuple[str, str, Flag], tuple[int, int, dict[str, None]]] = {}
    for count in flag_counts(record):
        if count.flag & NOT_BELIEVED:
            key = (count.cook, count.measures, count.flag)
            many, of, probes = totals.get(key, (0, 0, {}))
            totals[key] = (many + count.count, of + count.of, {**probes, count.probe: None})
    return [
        LeftOut(f"{measures} readings in {cook} ({', '.join(probes)})", many, of, _FLAG_WORDS[flag])
        for (cook, measures, flag), (many, of, probes) in totals.items()
    ]


_FLAG_WORDS = {
    Flag.STUCK: "did not move for so long that the probe or logger must have been frozen",
    Flag.OPEN_PROBE: "the value that loggers write for an unplugged probe",
    Flag.JUMP: "moved faster than meat or air can: out of the meat, or a fault",
    Flag.CONFLICT: "another reading of the same moment was recorded first",
    Flag.LEFT_OUT: "left out by a person",
}
