"""A whole trial as it was recorded, with the checks that span several records."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Cook, Cooker, Event, EventKind, Piece
from fairsmoke.trial.figure import Exclusion, Figure
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.question import Trial
from fairsmoke.trial.reading import Flag, Readings
from fairsmoke.trial.registration import Registration
from fairsmoke.trial.source import Source
from fairsmoke.trial.tasting import Ballot, Sample, Taster
from fairsmoke.trial.weighing import PartEstimate, Scale, Weighing

ReadingKey = tuple[str, str]
"""(cook, probe): the handles under which readings are kept."""

FAR_FUTURE_MS = 2**62


@dataclass(frozen=True)
class TrialRecord:
    """Everything recorded for one trial, as plain data.

    The first four belong to the kitchen and may serve several trials; the rest is the trial's own.
    """

    trial: Trial
    cookers: tuple[Cooker, ...] = ()
    scales: tuple[Scale, ...] = ()
    probes: tuple[Probe, ...] = ()
    tasters: tuple[Taster, ...] = ()
    cooks: tuple[Cook, ...] = ()
    pieces: tuple[Piece, ...] = ()
    placements: tuple[Placement, ...] = ()
    events: tuple[Event, ...] = ()
    weighings: tuple[Weighing, ...] = ()
    estimates: tuple[PartEstimate, ...] = ()
    samples: tuple[Sample, ...] = ()
    ballots: tuple[Ballot, ...] = ()
    figures: tuple[Figure, ...] = ()
    exclusions: tuple[Exclusion, ...] = ()
    sources: tuple[Source, ...] = ()
    registration: Registration | None = None
    readings: Mapping[ReadingKey, Readings] = field(default_factory=dict)

    @property
    def units(self) -> tuple[Piece, ...]:
        """The pieces that were cooked under an arm: what the comparison counts."""
        return tuple(piece for piece in self.pieces if piece.arm is not None)

    def cook(self, handle: str) -> Cook:
        """Return the cook of that handle; raises KeyError when there is none."""
        return {cook.id: cook for cook in self.cooks}[handle]

    def piece(self, handle: str) -> Piece:
        """Return the piece of that handle; raises KeyError when there is none."""
        return {piece.id: piece for piece in self.pieces}[handle]

    def events_of(self, piece_id: str, kind: EventKind | None = None) -> tuple[Event, ...]:
        """Return what happened to a piece, in order of time, perhaps only of one kind."""
        found = (
            event
            for event in self.events
            if piece_id in event.pieces and (kind is None or event.kind is kind)
        )
        return tuple(sorted(found, key=lambda event: event.at))

    def readings_of(self, placement: Placement) -> Readings:
        """Return what a probe read while it was there, with left-out stretches flagged.

        Left out are a person's exclusions, and what a probe in the meat read between a "probe
        out" and the next "probe in".
        """
        whole = self.readings.get((placement.cook, placement.probe))
        if whole is None:
            return Readings.none()
        until = epoch_ms(placement.until) if placement.until else FAR_FUTURE_MS
        part = whole.between(epoch_ms(placement.since), until)
        flags = np.zeros(len(part), dtype=np.uint8)
        for start_ms, end_ms in (*self._excluded(placement), *self._out_of_meat(placement)):
            inside = (part.time_ms >= start_ms) & (part.time_ms < end_ms)
            flags[inside] |= int(Flag.LEFT_OUT)
        return part.with_flags(flags)

    def _excluded(self, placement: Placement) -> Iterator[tuple[int, int]]:
        for exclusion in self.exclusions:
            if (exclusion.cook, exclusion.probe) == (placement.cook, placement.probe):
                assert exclusion.since is not None
                assert exclusion.until is not None
                yield epoch_ms(exclusion.since), epoch_ms(exclusion.until)

    def _out_of_meat(self, placement: Placement) -> Iterator[tuple[int, int]]:
        if placement.measures not in ("core", "surface"):
            return
        seen = [e for e in self.events if (e.cook, e.probe) == (placement.cook, placement.probe)]
        out_ms: int | None = None
        for event in sorted(seen, key=lambda event: event.at):
            if event.kind is EventKind.PROBE_OUT and out_ms is None:
                out_ms = epoch_ms(event.at)
            elif event.kind is EventKind.PROBE_IN and out_ms is not None:
                yield out_ms, epoch_ms(event.at)
                out_ms = None
        if out_ms is not None:
            yield out_ms, FAR_FUTURE_MS

    def problems(self) -> list[str]:
        """Return what does not fit together, each with its place and the mend; empty when sound."""
        return list(_problems(self))


def _problems(record: TrialRecord) -> Iterator[str]:
    yield from _repeated_handles(record)
    yield from _piece_problems(record)
    yield from _cook_problems(record)
    yield from _placement_problems(record)
    yield from _scale_problems(record)
    yield from _tasting_problems(record)
    yield from _figure_problems(record)


def _repeated_handles(record: TrialRecord) -> Iterator[str]:
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


def _spots(record: TrialRecord) -> list[str]:
    return [f"{cooker.id}/{spot.id}" for cooker in record.cookers for spot in cooker.positions]


def _piece_problems(record: TrialRecord) -> Iterator[str]:
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


def _cook_problems(record: TrialRecord) -> Iterator[str]:
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
    if cook is not None and cook.ends is not None and event.at > cook.ends:
        yield f"{place}: it happened after cook '{cook.id}' ended; correct the one or the other"


def _order_problems(record: TrialRecord, piece: Piece) -> Iterator[str]:
    went_on = record.events_of(piece.id, EventKind.ON)
    pulled = record.events_of(piece.id, EventKind.PULL)
    if went_on and pulled and pulled[-1].at <= went_on[0].at:
        yield (
            f"piece '{piece.id}': pulled ({pulled[-1].id}) before it went on ({went_on[0].id}); "
            "correct one of the times"
        )


def _placement_problems(record: TrialRecord) -> Iterator[str]:
    by_probe: dict[ReadingKey, list[Placement]] = {}
    for placement in record.placements:
        place = f"placement '{placement.id}'"
        yield from _missing(place, "cook", placement.cook, _ids(record.cooks))
        yield from _missing(place, "probe", placement.probe, _ids(record.probes))
        yield from _missing(place, "piece", placement.piece, _ids(record.pieces))
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


def _scale_problems(record: TrialRecord) -> Iterator[str]:
    for weighing in record.weighings:
        place = f"weighing '{weighing.id}'"
        yield from _missing(place, "scale", weighing.scale, _ids(record.scales))
        yield from _missing(place, "piece", weighing.piece, _ids(record.pieces))
        yield from _missing(place, "cook", weighing.cook, _ids(record.cooks))
    for estimate in record.estimates:
        yield from _missing(
            f"estimate '{estimate.id}'", "piece", estimate.piece, _ids(record.pieces)
        )


def _tasting_problems(record: TrialRecord) -> Iterator[str]:
    measures = {measure.id: measure for measure in record.trial.measures}
    for sample in record.samples:
        yield from _missing(f"sample '{sample.id}'", "piece", sample.piece, _ids(record.pieces))
    for ballot in record.ballots:
        place = f"ballot '{ballot.id}'"
        yield from _missing(place, "taster", ballot.taster, _ids(record.tasters))
        yield from _missing(place, "cook", ballot.cook, _ids(record.cooks))
        yield from _missing(place, "measure", ballot.measure, measures)
        measure = measures.get(ballot.measure)
        for score in ballot.scores:
            yield from _missing(place, "sample", score.sample, _ids(record.samples))
            if measure is None or measure.scale_low is None or measure.scale_high is None:
                continue
            if not measure.scale_low <= score.value <= measure.scale_high:
                yield (
                    f"{place}: {score.value:g} for '{score.sample}' is off the scale of "
                    f"{measure.scale_low:g} to {measure.scale_high:g}"
                )


def _figure_problems(record: TrialRecord) -> Iterator[str]:
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
