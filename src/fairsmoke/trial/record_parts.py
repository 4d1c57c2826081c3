"""A whole trial as it was recorded."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Cook, Cooker, Event, EventKind, Piece
from fairsmoke.trial.figure import Exclusion, Figure
from fairsmoke.trial.plan import Plan
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
class RecordParts:
    """Everything recorded for one trial, as plain data; ``TrialRecord`` adds its checks.

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
    plan: Plan | None = None
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
