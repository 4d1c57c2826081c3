"""The numbers that a measure compares: one a piece, each with how it was come by."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.panel import panel_scores
from fairsmoke.judging.traces import core_trace, first_reached_ms, pulled_ms, went_on_ms
from fairsmoke.trial.cook import Piece
from fairsmoke.trial.question import Measure, MeasureKind
from fairsmoke.trial.record import TrialRecord
from fairsmoke.weighing import Basis, LedgerError, Solution, covariance, yield_of

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Response:
    """What a measure found for one piece.

    ``value`` is a fraction for yield, seconds for times, points for scores, else the measure's
    unit; None when it is missing or was left out, and ``note`` then says why. ``uncertainty`` is
    the standard uncertainty of measuring it, None where that cannot be told.
    """

    piece: str
    value: float | None
    uncertainty: float | None
    note: str = ""


@dataclass(frozen=True, eq=False)
class Responses:
    """The responses of every unit of a trial for one measure, in the order of ``record.units``.

    ``known_cov`` (n, n) is the covariance of measuring them, zero where it is missing or already
    part of the spread between pieces; ``notes`` are remarks on the whole.
    """

    measure: Measure
    rows: tuple[Response, ...]
    known_cov: FloatArray
    notes: tuple[str, ...] = ()

    @property
    def values(self) -> FloatArray:
        """The values (n,), NaN where missing."""
        return np.array([np.nan if row.value is None else row.value for row in self.rows])


def responses_of(record: TrialRecord, measure: Measure, ledger: Solution | None) -> Responses:
    """Find what every unit of the trial gave for a measure.

    ``ledger`` is the solved mass ledger of the whole record, None when its weighings contradict
    each other beyond hope; only yields look at it.
    """
    find = _FINDERS[measure.kind]
    found = find(record, measure, ledger)
    rows = tuple(
        _unless_excluded(record, measure, piece, row)
        for piece, row in zip(record.units, found.rows, strict=True)
    )
    return Responses(measure, rows, found.known_cov, found.notes)


def _unless_excluded(
    record: TrialRecord, measure: Measure, piece: Piece, row: Response
) -> Response:
    for exclusion in record.exclusions:
        if exclusion.piece == piece.id and exclusion.measure in (None, measure.id):
            return Response(row.piece, None, None, f"left out: {exclusion.why}")
    return row


def _yields(record: TrialRecord, measure: Measure, ledger: Solution | None) -> Responses:
    if ledger is None:
        lost = "the weighings cannot be right as they stand"
        none = tuple(Response(piece.id, None, None, lost) for piece in record.units)
        return Responses(measure, none, np.zeros((len(none), len(none))))
    rows: list[Response] = []
    for piece in record.units:
        try:
            found = yield_of(ledger, piece.id, measure.state, Basis.TRIMMED)
        except LedgerError as error:
            rows.append(Response(piece.id, None, None, str(error)))
        else:
            rows.append(Response(piece.id, found.value, found.standard_uncertainty, str(found.how)))
    known = [i for i, row in enumerate(rows) if row.value is not None]
    cov = np.zeros((len(rows), len(rows)))
    if known:
        pieces = [rows[i].piece for i in known]
        cov[np.ix_(known, known)] = covariance(ledger, pieces, measure.state)
    return Responses(measure, tuple(rows), cov)


def _cook_times(record: TrialRecord, measure: Measure, _: Solution | None) -> Responses:
    rows: list[Response] = []
    for piece in record.units:
        on, off = went_on_ms(record, piece), pulled_ms(record, piece)
        if on is None or off is None:
            lacking = "on" if on is None else "pull"
            rows.append(Response(piece.id, None, None, f"no '{lacking}' event was recorded"))
        else:
            rows.append(Response(piece.id, (off - on) / 1000, 0.0))
    return _independent(measure, rows)


def _times_to_core(record: TrialRecord, measure: Measure, _: Solution | None) -> Responses:
    assert measure.core_c is not None
    rows: list[Response] = []
    for piece in record.units:
        on = went_on_ms(record, piece)
        reached = first_reached_ms(core_trace(record, piece), measure.core_c)
        if on is None:
            rows.append(Response(piece.id, None, None, "no 'on' event was recorded"))
        elif reached is None:
            rows.append(Response(piece.id, None, None, "no believed reading reached it"))
        else:
            rows.append(Response(piece.id, (reached - on) / 1000, 0.0))
    return _independent(measure, rows)


def _scores(record: TrialRecord, measure: Measure, _: Solution | None) -> Responses:
    samples = {sample.id: sample for sample in record.samples}
    units = {piece.id: i for i, piece in enumerate(record.units)}
    tasters = {taster.id: i for i, taster in enumerate(record.tasters)}
    triples = [
        (units[samples[score.sample].piece], tasters[ballot.taster], score.value)
        for ballot in record.ballots
        if ballot.measure == measure.id
        for score in ballot.scores
        if samples[score.sample].piece in units
    ]
    found = panel_scores(
        np.array([piece for piece, _, _ in triples], dtype=np.intp),
        np.array([taster for _, taster, _ in triples], dtype=np.intp),
        np.array([value for _, _, value in triples], dtype=np.float64),
        n_pieces=len(units),
    )
    counts = np.bincount([piece for piece, _, _ in triples], minlength=len(units))
    rows = [
        Response(
            piece.id,
            None if np.isnan(found.value[i]) else float(found.value[i]),
            None if np.isnan(found.uncertainty[i]) else float(found.uncertainty[i]),
            f"{counts[i]} tasters" if counts[i] else "no taster scored it",
        )
        for i, piece in enumerate(record.units)
    ]
    # The prior for the spread between pieces comes from panel means, so it already holds the
    # tasters' noise; counting that again would make the answer too unsure.
    size = len(rows)
    return Responses(measure, tuple(rows), np.zeros((size, size)), _score_notes(record, measure))


def _score_notes(record: TrialRecord, measure: Measure) -> tuple[str, ...]:
    used = {s.sample for b in record.ballots if b.measure == measure.id for s in b.scores}
    coded = [sample.code is not None for sample in record.samples if sample.id in used]
    if coded and not all(coded):
        return (
            "Some samples carried no code, so tasters may have known which was which; "
            "expectation can move a score by more than a method does.",
        )
    return ()


def _figures(record: TrialRecord, measure: Measure, _: Solution | None) -> Responses:
    rows: list[Response] = []
    for piece in record.units:
        found = [f for f in record.figures if f.piece == piece.id and f.measure == measure.id]
        if not found:
            rows.append(Response(piece.id, None, None, "not measured"))
            continue
        value = float(np.mean([figure.value for figure in found]))
        # Repeats of one piece average out their own uncertainty, not the piece's difference.
        u = float(np.sqrt(np.sum([f.uncertainty**2 for f in found])) / len(found))
        note = f"mean of {len(found)}" if len(found) > 1 else ""
        rows.append(Response(piece.id, value, u, note))
    return _independent(measure, rows)


def _independent(measure: Measure, rows: list[Response]) -> Responses:
    u = np.array([row.uncertainty or 0.0 for row in rows])
    return Responses(measure, tuple(rows), np.diag(u**2))


_FINDERS: dict[MeasureKind, Callable[[TrialRecord, Measure, Solution | None], Responses]] = {
    MeasureKind.YIELD: _yields,
    MeasureKind.COOK_TIME: _cook_times,
    MeasureKind.TIME_TO_CORE: _times_to_core,
    MeasureKind.SCORE: _scores,
    MeasureKind.MEASURED: _figures,
}
