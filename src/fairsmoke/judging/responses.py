"""The numbers that a measure compares: one a piece, each with how it was come by."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.choices import choice_remarks
from fairsmoke.judging.confounded import answer_variance
from fairsmoke.judging.panel import panel_scores
from fairsmoke.judging.remark import Caveat, CaveatKind
from fairsmoke.judging.traces import Trace, core_trace, first_reached_ms, pulled_ms, went_on_ms
from fairsmoke.judging.waiting import Waiting, waits_for
from fairsmoke.messages.message import N_, NN_, Listed, Message, Words
from fairsmoke.trial.cook import Piece
from fairsmoke.trial.question import Measure, MeasureKind
from fairsmoke.trial.record import FAR_FUTURE_MS, TrialRecord
from fairsmoke.weighing import (
    Basis,
    Known,
    LedgerError,
    PartOf,
    Solution,
    Yield,
    covariance,
    shared_estimates,
    yield_of,
)

FloatArray = NDArray[np.float64]

_NO_ON = N_("no 'on' event was recorded")

TOO_OPEN = 0.5
"""A yield that weighings leave open by more than this says nothing and is not used."""

_MOSTLY = 0.5
"""Share of a yield's variance from what was not weighed, from which that is worth saying."""


@dataclass(frozen=True)
class Response:
    """What a measure found for one piece.

    ``value`` is a fraction for yield, seconds for times, points for scores, else the measure's
    unit; None when it is missing or was left out, and ``note`` then says why. ``uncertainty`` is
    the standard uncertainty of measuring it, None where that cannot be told; of a score it is the
    standard error of the panel's mean. ``caution`` says what would pin down a value that is open;
    ``excluded`` where a person left it out, ``bounded`` where weighings leave it open, ``waits``
    where it rests on an entry that is doubted. Of a time that was not seen to its end,
    ``at_least`` (s) says how long it took at the least, ``at_most`` at the most.
    """

    piece: str
    value: float | None
    uncertainty: float | None
    note: Words = ""
    caution: Words = ""
    excluded: bool = False
    bounded: bool = False
    waits: bool = False
    at_least: float | None = None
    at_most: float | None = None

    @property
    def censored(self) -> bool:
        """Whether only a bound of the value is known."""
        return self.at_least is not None or self.at_most is not None


@dataclass(frozen=True, eq=False)
class Responses:
    """The responses of every unit of a trial for one measure, in the order of ``record.units``.

    ``known_cov`` (n, n) is the covariance of measuring them, zero where it is missing or already
    part of the spread between pieces; ``notes`` are remarks on the whole.
    """

    measure: Measure
    rows: tuple[Response, ...]
    known_cov: FloatArray
    notes: tuple[Words, ...] = ()
    remarks: tuple[Caveat, ...] = ()

    @property
    def values(self) -> FloatArray:
        """The values (n,), NaN where missing."""
        return np.array([np.nan if row.value is None else row.value for row in self.rows])

    @property
    def waits(self) -> bool:
        """Whether a value waits for a doubted entry."""
        return any(row.waits for row in self.rows)

    @property
    def bounds(self) -> FloatArray:
        """Between which values (n, 2) those lie that are NaN; 0 and infinity where it is open."""
        return np.array(
            [
                [
                    0.0 if row.at_least is None else row.at_least,
                    np.inf if row.at_most is None else row.at_most,
                ]
                for row in self.rows
            ]
        ).reshape(-1, 2)

    @property
    def censored(self) -> NDArray[np.bool_]:
        """Of which only a bound is known, (n,)."""
        return np.array([row.censored for row in self.rows], dtype=np.bool_)


def responses_of(
    record: TrialRecord,
    measure: Measure,
    ledger: Solution | None,
    aside: Mapping[str, Words] | None = None,
    waiting: tuple[Waiting, ...] = (),
) -> Responses:
    """Find what every unit of the trial gave for a measure.

    ``ledger`` is the solved mass ledger, None when nothing could be solved; ``aside`` says why a
    piece is not in it. Only yields look at them. A piece that rests on an entry in ``waiting`` has
    no value.
    """
    if measure.kind is MeasureKind.YIELD:
        found = _yields(record, measure, ledger, aside or {})
    else:
        found = _FINDERS[measure.kind](record, measure)
    rows = tuple(
        _unless_excluded(record, measure, piece, _unless_waiting(measure, row, waiting))
        for piece, row in zip(record.units, found.rows, strict=True)
    )
    remarks = (*found.remarks, *_censored(record, rows))
    return Responses(measure, rows, found.known_cov, found.notes, remarks)


def _unless_waiting(measure: Measure, row: Response, waiting: tuple[Waiting, ...]) -> Response:
    entry = waits_for(waiting, row.piece, measure.kind)
    if entry is None:
        return row
    note = N_("waits for %(entry)s", entry=entry.words)
    return Response(row.piece, None, None, note, waits=True)


def _unless_excluded(
    record: TrialRecord, measure: Measure, piece: Piece, row: Response
) -> Response:
    for exclusion in record.exclusions:
        if exclusion.piece == piece.id and exclusion.measure in (None, measure.id):
            why = N_("left out: %(why)s", why=exclusion.why)
            return Response(row.piece, None, None, why, excluded=True)
    return row


def _yields(
    record: TrialRecord, measure: Measure, ledger: Solution | None, aside: Mapping[str, Words]
) -> Responses:
    rows = [_yield(piece.id, measure, ledger, aside.get(piece.id)) for piece in record.units]
    known = [i for i, row in enumerate(rows) if row.value is not None]
    cov = np.zeros((len(rows), len(rows)))
    told: list[Caveat] = []
    if known:
        assert ledger is not None
        pieces = [rows[i].piece for i in known]
        cov[np.ix_(known, known)] = covariance(ledger, pieces, measure.state)
        told = [
            Caveat(CaveatKind.SHARED_ESTIMATE, (part,), (float(len(users)),))
            for part, users in shared_estimates(ledger, pieces, measure.state).items()
        ]
    return Responses(measure, tuple(rows), cov, remarks=tuple(told))


def _yield(piece: str, measure: Measure, ledger: Solution | None, why: Words | None) -> Response:
    if why is not None:
        told = N_("its weighings cannot all be true: %(why)s", why=why)
        return Response(piece, None, None, told)
    if ledger is None:
        return Response(piece, None, None, N_("nothing of it was weighed"))
    try:
        found = yield_of(ledger, piece, measure.state, Basis.TRIMMED)
    except LedgerError as error:
        return Response(piece, None, None, error.message)
    unsure = found.standard_uncertainty
    if found.how is Known.BOUNDED and found.interval[1] - found.interval[0] > TOO_OPEN:
        # Over masses that may be next to nothing a ratio has no mean that would mean anything.
        return Response(piece, None, None, found.how.words, yield_caution(found), bounded=True)
    bounded = found.how is Known.BOUNDED
    how = found.how.words
    return Response(piece, found.value, unsure, how, yield_caution(found), bounded=bounded)


def yield_caution(found: Yield) -> Words:
    """Say what would pin a yield down, where it is open or rests mostly on estimates."""
    if found.how is Known.BOUNDED:
        return N_(
            "not weighed: %(parts)s; weigh it, or say what it weighs at least and at most, to pin "
            "this down",
            parts=_parts(part for part in found.open_parts),
        )
    guessed = [source for source in found.sources if source.unweighed]
    if sum(source.share for source in guessed) < _MOSTLY:
        return ""
    return N_(
        "rests mostly on the estimate of the %(parts)s; weigh it to pin this down",
        parts=_parts(part for source in guessed for part in source.unweighed),
    )


def _parts(parts: Iterable[PartOf]) -> Listed:
    own = {part.part.text: part.part.words for part in parts}
    return Listed(list(own.values()))


def _cook_times(record: TrialRecord, measure: Measure) -> Responses:
    rows: list[Response] = []
    for piece in record.units:
        on, off = went_on_ms(record, piece), pulled_ms(record, piece)
        if on is None or off is None:
            lacking = _NO_ON if on is None else N_("no 'pull' event was recorded")
            rows.append(Response(piece.id, None, None, lacking))
        else:
            rows.append(Response(piece.id, (off - on) / 1000, 0.0))
    return _independent(measure, rows)


def _times_to_core(record: TrialRecord, measure: Measure) -> Responses:
    assert measure.core_c is not None
    rows: list[Response] = []
    for piece in record.units:
        on = went_on_ms(record, piece)
        if on is None:
            rows.append(Response(piece.id, None, None, _NO_ON))
            continue
        core = core_trace(record, piece).between(on, FAR_FUTURE_MS)
        rows.append(_time_to_core(piece, core, on, pulled_ms(record, piece), measure.core_c))
    return _independent(measure, rows)


def _censored(record: TrialRecord, rows: Iterable[Response]) -> Iterator[Caveat]:
    """Yield the pieces of whose times only a bound is known."""
    names = {piece.id: piece.name for piece in record.units}
    never = tuple(names[row.piece] for row in rows if row.at_least is not None)
    before = tuple(names[row.piece] for row in rows if row.at_most is not None)
    for kind, pieces in ((CaveatKind.CENSORED, never), (CaveatKind.REACHED_BEFORE, before)):
        if pieces:
            yield Caveat(kind, pieces)


def _time_to_core(
    piece: Piece, core: Trace, on_ms: int, pull_ms: int | None, core_c: float
) -> Response:
    """Return when a core reached a temperature, or after which and before which time it must have.

    A piece that never reached it took longer than it was seen to cook; one that was that hot when
    it was first read took no longer than until then.
    """
    if not len(core):
        return Response(piece.id, None, None, N_("its core was not read"))
    first, last = float(core.time_ms[0]), float(core.time_ms[-1])
    if core.value_c[0] >= core_c:
        note = N_("it was that hot when it was first read")
        sooner = (first - on_ms) / 1000
        return Response(piece.id, None, None, note, at_most=sooner if sooner > 0.0 else None)
    reached = first_reached_ms(core, core_c)
    if reached is not None:
        return Response(piece.id, (reached - on_ms) / 1000, 0.0)
    seen = (min(last, pull_ms or last) - on_ms) / 1000
    note = N_("no believed reading reached it")
    return Response(piece.id, None, None, note, at_least=seen if seen > 0.0 else None)


def _scores(record: TrialRecord, measure: Measure) -> Responses:
    samples = {sample.id: sample for sample in record.samples}
    units = {piece.id: i for i, piece in enumerate(record.units)}
    tasters = {taster.id: i for i, taster in enumerate(record.tasters)}
    triples = [
        (
            units[samples[score.sample].piece],
            tasters[ballot.taster],
            score.value,
            bool(ballot.presented) and ballot.presented[0] == score.sample,
        )
        for ballot in record.ballots
        if ballot.measure == measure.id
        for score in ballot.scores
        if samples[score.sample].piece in units
    ]
    found = panel_scores(
        np.array([piece for piece, _, _, _ in triples], dtype=np.intp),
        np.array([taster for _, taster, _, _ in triples], dtype=np.intp),
        np.array([value for _, _, value, _ in triples], dtype=np.float64),
        n_pieces=len(units),
        first=np.array([first for _, _, _, first in triples], dtype=np.bool_)
        if all(b.presented for b in record.ballots if b.measure == measure.id and b.scores)
        else None,
    )
    counts = np.bincount([piece for piece, _, _, _ in triples], minlength=len(units))
    chosen = {
        samples[sample].piece
        for ballot in record.ballots
        if ballot.measure == measure.id and not ballot.scores
        for sample in (*ballot.presented, *filter(None, (ballot.chosen,)))
    }
    rows = [
        Response(
            piece.id,
            None if np.isnan(found.value[i]) else float(found.value[i]),
            None if np.isnan(found.uncertainty[i]) else float(found.uncertainty[i]),
            _tasters(int(counts[i]), piece.id in chosen),
        )
        for i, piece in enumerate(record.units)
    ]
    # The prior for the spread between pieces comes from panel means, so it already holds the
    # noise of a panel; what a smaller one adds, and what the order of serving leaves open, is not.
    assert measure.scale_high is not None
    assert measure.scale_low is not None
    span = measure.scale_high - measure.scale_low
    more = np.diag([answer_variance(int(count), span) for count in counts])
    told = tuple(choice_remarks(record, measure))
    return Responses(measure, tuple(rows), more + found.first_covariance(span), remarks=told)


def _tasters(count: int, chosen: bool) -> Message:
    if not count and chosen:
        return N_("tasters chose among samples and gave no score")
    if not count:
        return N_("no taster scored it")
    return NN_("%(count)s taster", "%(count)s tasters", count)


def _figures(record: TrialRecord, measure: Measure) -> Responses:
    rows: list[Response] = []
    for piece in record.units:
        found = [f for f in record.figures if f.piece == piece.id and f.measure == measure.id]
        if not found:
            rows.append(Response(piece.id, None, None, N_("not measured")))
            continue
        value = float(np.mean([figure.value for figure in found]))
        # Repeats of one piece average out their own uncertainty, not the piece's difference.
        u = float(np.sqrt(np.sum([f.uncertainty**2 for f in found])) / len(found))
        note = N_("mean of %(count)s", count=len(found)) if len(found) > 1 else ""
        rows.append(Response(piece.id, value, u, note))
    return _independent(measure, rows)


def _independent(measure: Measure, rows: list[Response]) -> Responses:
    u = np.array([row.uncertainty or 0.0 for row in rows])
    return Responses(measure, tuple(rows), np.diag(u**2))


_FINDERS: dict[MeasureKind, Callable[[TrialRecord, Measure], Responses]] = {
    MeasureKind.COOK_TIME: _cook_times,
    MeasureKind.TIME_TO_CORE: _times_to_core,
    MeasureKind.SCORE: _scores,
    MeasureKind.MEASURED: _figures,
}
