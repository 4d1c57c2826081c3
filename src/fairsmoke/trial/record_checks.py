"""The checks that span several records of a trial: what does not fit together, and the mend."""

from collections.abc import Iterable, Iterator
from datetime import timedelta
from itertools import combinations, pairwise
from typing import TYPE_CHECKING

from fairsmoke.trial.cook import Cook, Event, EventKind, Piece
from fairsmoke.trial.probe import Placement
from fairsmoke.trial.weighing import SHARED_KINDS, Part

if TYPE_CHECKING:
    from fairsmoke.trial.record import TrialRecord

_EARLIEST = timedelta(days=1)
"""How long before its cook starts something of it may have happened: trimming, the fire."""


def problems_of(record: "TrialRecord") -> Iterator[str]:
    """Yield each fault of a record with its place and the mend."""
    yield from _repeated_handles(record)
    yield from _piece_problems(record)
    yield from _cook_problems(record)
    yield from _placement_problems(record)
    yield from _scale_problems(record)
    yield from _tasting_problems(record)
    yield from _figure_problems(record)


def _repeated_handles(record: "TrialRecord") -> Iterator[str]:
    kinds: dict[str, Iterable[str]] = {
        "cookers": (x.id for x in record.cookers),
        "scales": (x.id for x in record.scales),
        "probes": (x.id for x in record.probes),
        "tasters": (x.id for x in record.tasters),
        "cooks": (x.id for x in record.cooks),
        "pieces": (x.id for x in record.pieces),
        "placements": (x.id for x in record.placements),
        "events": (x.id for x in record.events),
        "weighings": (x.id for x in record.weighings),
        "estimates": (x.id for x in record.estimates),
        "samples": (x.id for x in record.samples),
        "ballots": (x.id for x in record.ballots),
        "figures": (x.id for x in record.figures),
        "exclusions": (x.id for x in record.exclusions),
        "sources": (x.id for x in record.sources),
    }
    for what, handles in kinds.items():
        seen: set[str] = set()
        for handle in handles:
            if handle in seen:
                yield f"two {what} are called '{handle}'; give each its own id"
            seen.add(handle)


def _missing(place: str, what: str, handle: str | None, known: Iterable[str]) -> Iterator[str]:
    handles = list(known)
    if handle is not None and handle not in handles:
        listed = ", ".join(handles) if handles else "none recorded yet"
        yield f"{place}: there is no {what} '{handle}' (known: {listed})"


def _ids(records: Iterable[object]) -> list[str]:
    return [str(getattr(record, "id", "")) for record in records]


def _spots(record: "TrialRecord") -> list[str]:
    return [f"{cooker.id}/{spot.id}" for cooker in record.cookers for spot in cooker.positions]


def _piece_problems(record: "TrialRecord") -> Iterator[str]:
    pieces = {piece.id: piece for piece in record.pieces}
    cooks = {cook.id: cook for cook in record.cooks}
    for piece in record.pieces:
        place = f"piece '{piece.id}'"
        yield from _missing(place, "cook", piece.cook, cooks)
        yield from _missing(place, "arm", piece.arm, _ids(record.trial.arms))
        yield from _missing(place, "piece", piece.half_of, pieces)
        if piece.spot is not None:
            yield from _missing(place, "position", piece.spot.text, _spots(record))
            cook = cooks.get(piece.cook or "")
            if cook is not None and piece.spot.cooker not in cook.cookers:
                yield f"{place}: cooker '{piece.spot.cooker}' is not part of cook '{cook.id}'"
        whole = pieces.get(piece.half_of or "")
        if whole is not None and whole.arm is not None:
            yield f"{place}: its whole '{whole.id}' was cut up, so it cannot have an arm itself"
        if piece.arm is not None and record.trial.draw.within == "pair" and piece.pair is None:
            yield f"{place}: arms were drawn within pairs, so it needs 'pair'"


def _cook_problems(record: "TrialRecord") -> Iterator[str]:
    pieces = {piece.id: piece for piece in record.pieces}
    cooks = {cook.id: cook for cook in record.cooks}
    for cook in record.cooks:
        for cooker in cook.cookers:
            yield from _missing(f"cook '{cook.id}'", "cooker", cooker, _ids(record.cookers))
    for event in record.events:
        place = f"event '{event.id}'"
        yield from _missing(place, "cook", event.cook, cooks)
        yield from _missing(place, "cooker", event.cooker, _ids(record.cookers))
        yield from _missing(place, "probe", event.probe, _ids(record.probes))
        if event.to is not None:
            yield from _missing(place, "position", event.to.text, _spots(record))
        for handle in event.pieces:
            yield from _missing(place, "piece", handle, pieces)
            piece = pieces.get(handle)
            if piece is not None and piece.cook != event.cook:
                yield f"{place}: piece '{handle}' is in cook '{piece.cook}', not '{event.cook}'"
        yield from _outside_cook(place, event, cooks.get(event.cook))
    for unit in record.units:
        yield from _order_problems(record, unit)


def _outside_cook(place: str, event: Event, cook: Cook | None) -> Iterator[str]:
    if cook is None:
        return
    if cook.ends is not None and event.at > cook.ends:
        yield f"{place}: it happened after cook '{cook.id}' ended; correct the one or the other"
    if event.at < cook.starts - _EARLIEST:
        yield (
            f"{place}: it happened more than a day before cook '{cook.id}' started; correct the "
            "date of the one or the other"
        )


def _order_problems(record: "TrialRecord", piece: Piece) -> Iterator[str]:
    went_on = record.events_of(piece.id, EventKind.ON)
    pulled = record.events_of(piece.id, EventKind.PULL)
    if went_on and pulled and pulled[-1].at <= went_on[0].at:
        yield (
            f"piece '{piece.id}': pulled ({pulled[-1].id}) before it went on ({went_on[0].id}); "
            "correct one of the times"
        )


def _placement_problems(record: "TrialRecord") -> Iterator[str]:
    by_probe: dict[tuple[str, str], list[Placement]] = {}
    pieces = {piece.id: piece for piece in record.pieces}
    for placement in record.placements:
        place = f"placement '{placement.id}'"
        yield from _missing(place, "cook", placement.cook, _ids(record.cooks))
        yield from _missing(place, "probe", placement.probe, _ids(record.probes))
        yield from _missing(place, "piece", placement.piece, pieces)
        piece = pieces.get(placement.piece or "")
        if piece is not None and piece.cook is not None and piece.cook != placement.cook:
            yield (
                f"{place}: piece '{piece.id}' is in cook '{piece.cook}', not '{placement.cook}'; "
                "correct the one or the other"
            )
        if placement.spot is not None:
            yield from _missing(place, "position", placement.spot.text, _spots(record))
        by_probe.setdefault((placement.cook, placement.probe), []).append(placement)
    for stays in by_probe.values():
        stays.sort(key=lambda stay: stay.since)
        for earlier, later in pairwise(stays):
            if earlier.until is None or earlier.until > later.since:
                yield (
                    f"placement '{later.id}': probe '{later.probe}' was then still in "
                    f"'{earlier.id}'; give that one its 'until'"
                )


def _scale_problems(record: "TrialRecord") -> Iterator[str]:
    for weighing in record.weighings:
        place = f"weighing '{weighing.id}'"
        yield from _missing(place, "scale", weighing.scale, _ids(record.scales))
        yield from _missing(place, "piece", weighing.piece, _ids(record.pieces))
        yield from _missing(place, "cook", weighing.cook, _ids(record.cooks))
    for estimate in record.estimates:
        yield from _missing(
            f"estimate '{estimate.id}'", "piece", estimate.piece, _ids(record.pieces)
        )
    alone = {
        _whose(weighing.piece, weighing.sum[0]): weighing.id
        for weighing in record.weighings
        if len(weighing.sum) == 1
    }
    for estimate in record.estimates:
        weighed = alone.get(_whose(estimate.piece, estimate.part))
        if weighed is not None:
            yield (
                f"estimate '{estimate.id}': {estimate.part.text} was also weighed alone "
                f"('{weighed}'); keep the weighing and take the estimate out"
            )


def _whose(piece: str | None, part: Part) -> tuple[str | None, str]:
    """Return whose part it is: a tray is one for the whole trial."""
    return (None if part.kind in SHARED_KINDS else piece, part.text)


def _tasting_problems(record: "TrialRecord") -> Iterator[str]:
    measures = {measure.id: measure for measure in record.trial.measures}
    pieces = {piece.id: piece for piece in record.pieces}
    samples = {sample.id: sample.piece for sample in record.samples}
    yield from _repeated_codes(record)
    for sample in record.samples:
        yield from _missing(f"sample '{sample.id}'", "piece", sample.piece, _ids(record.pieces))
    for ballot in record.ballots:
        place = f"ballot '{ballot.id}'"
        yield from _missing(place, "taster", ballot.taster, _ids(record.tasters))
        yield from _missing(place, "cook", ballot.cook, _ids(record.cooks))
        yield from _missing(place, "measure", ballot.measure, measures)
        measure = measures.get(ballot.measure)
        for score in ballot.scores:
            yield from _missing(place, "sample", score.sample, samples)
            piece = pieces.get(samples.get(score.sample, ""))
            if piece is not None and piece.cook not in (None, ballot.cook):
                yield (
                    f"{place}: sample '{score.sample}' is of piece '{piece.id}' in cook "
                    f"'{piece.cook}', not '{ballot.cook}'; correct the ballot's cook or its sample"
                )
            if measure is None or measure.scale_low is None or measure.scale_high is None:
                continue
            if not measure.scale_low <= score.value <= measure.scale_high:
                yield (
                    f"{place}: {score.value:g} for '{score.sample}' is off the scale of "
                    f"{measure.scale_low:g} to {measure.scale_high:g}"
                )


def _repeated_codes(record: "TrialRecord") -> Iterator[str]:
    """Yield each code that stood for two pieces of one cook on the ballots of one measure."""
    cooks = {piece.id: piece.cook for piece in record.pieces}
    shown = {
        (ballot.measure, sample)
        for ballot in record.ballots
        for sample in (*ballot.presented, *(score.sample for score in ballot.scores))
    }
    by_code: dict[tuple[str, str | None, int], list[tuple[str, str]]] = {}
    for measure in record.trial.measures:
        for sample in record.samples:
            if sample.code is not None and (measure.id, sample.id) in shown:
                key = (measure.id, cooks.get(sample.piece), sample.code)
                by_code.setdefault(key, []).append((sample.id, sample.piece))
    said: set[tuple[str, str]] = set()
    for (_, cook, code), handed in by_code.items():
        for (first, one), (second, other) in combinations(handed, 2):
            if one != other and (first, second) not in said:
                said.add((first, second))
                yield (
                    f"samples '{first}' and '{second}': both carried code {code} in cook '{cook}' "
                    "but are of different pieces; correct the code that is wrong"
                )


def _figure_problems(record: "TrialRecord") -> Iterator[str]:
    for figure in record.figures:
        place = f"figure '{figure.id}'"
        yield from _missing(place, "piece", figure.piece, _ids(record.pieces))
        yield from _missing(place, "measure", figure.measure, _ids(record.trial.measures))
    for exclusion in record.exclusions:
        place = f"exclusion '{exclusion.id}'"
        yield from _missing(place, "piece", exclusion.piece, _ids(record.pieces))
        yield from _missing(place, "measure", exclusion.measure, _ids(record.trial.measures))
        yield from _missing(place, "probe", exclusion.probe, _ids(record.probes))
        yield from _missing(place, "cook", exclusion.cook, _ids(record.cooks))
