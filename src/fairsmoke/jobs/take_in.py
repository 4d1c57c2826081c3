"""Take a logger's file into a notebook: each reading once, flagged, with its source."""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from fairsmoke.intake.errors import IntakeError
from fairsmoke.intake.flags import ProbeKind, flag_readings
from fairsmoke.intake.merge import new_only
from fairsmoke.intake.read import LoggerFile, read
from fairsmoke.intake.series import ProbeSeries
from fairsmoke.jobs.doubts import check_apart, check_belongs
from fairsmoke.jobs.layouts import Answer, known_answer, layout_to_keep
from fairsmoke.jobs.probe_names import probes_of, require
from fairsmoke.notebook import Notebook
from fairsmoke.trial.clock import epoch_ms, time_zone
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.reading import Flag, Readings
from fairsmoke.trial.source import BadRow, Source

__all__ = ["Answer", "Taken", "TakenProbe", "known_answer", "read_for", "take_in", "zone_notes"]

SHOWN_TEXT = 2000
"""Longest text of a bad row that is kept; a damaged file may hold megabytes in one line."""


@dataclass(frozen=True)
class TakenProbe:
    """What came in for one probe.

    ``no_value`` cells held nothing, ``open_probe`` ones a word for an unplugged probe.
    """

    probe: str
    file_name: str
    new: int
    repeated: int
    conflicting: int
    no_value: int
    open_probe: int
    flagged: Mapping[str, int]


@dataclass(frozen=True)
class Taken:
    """What came of taking a file in. ``already`` is True when that very file was in before.

    ``layout_was_new`` when files laid out alike need no answer from now on.
    """

    source: Source
    probes: tuple[TakenProbe, ...]
    notes: tuple[str, ...]
    already: bool
    layout_was_new: bool


def take_in(
    notebook: Notebook,
    trial: str,
    cook_id: str,
    data: bytes,
    file_name: str,
    answer: Answer,
    *,
    by: str = "",
    why: str = "",
    anyway: bool = False,
    found: LoggerFile | None = None,
    now: datetime | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Taken:
    """Take a logger's file in for a cook, wholly or not at all.

    Readings that are there already add nothing; flags are worked out from each probe's placements.
    The layout, once used, is known: files laid out alike need no answer again. ``why`` corrects a
    layout that was known otherwise. ``found`` is the file as ``read_for`` read it, if it was.
    Raises IntakeError when the file cannot be read so, JobError when a probe is not known,
    DoubtError when the readings hardly belong to the cook, unless ``anyway``.
    """
    cook = notebook.get(Cook, cook_id, trial=trial)
    found = found or read_for(cook, data, file_name, answer, progress=progress)
    probes = notebook.list(Probe)
    names = require(probes_of([one.probe for one in found.series], answer.probes, probes), probes)
    check_apart(found, names)
    stays = [s for s in notebook.list(Placement, trial=trial) if s.cook == cook_id]
    ready: dict[str, list[Readings]] = {}
    counts: list[TakenProbe] = []
    for series in found.series:
        probe = names[series.probe]
        if not probe:
            continue
        earlier = [notebook.readings(trial, cook_id, probe), *ready.get(probe, [])]
        new, count = _new_readings(series, probe, earlier, stays)
        counts.append(count)
        ready.setdefault(probe, []).append(new)
    notes = (*zone_notes(found, cook), *found.notes)
    source = _source(cook_id, file_name, data, found, counts, now or datetime.now(UTC))
    known = notebook.source_of_file(trial, cook_id, source.sha256)
    if known is not None:
        first = notebook.get(Source, known, trial=trial)
        return Taken(first, tuple(counts), notes, True, False)
    if not anyway:
        check_belongs(cook, stays, ready)
    layout = layout_to_keep(notebook, found, answer, by=by, why=why, now=source.taken_in)
    source = source.model_copy(update={"id": _free_handle(notebook, trial, source.id)})
    notebook.add_source(trial, source, ready, by=by)
    if layout is not None:
        notebook.save(layout.record, by=by, why=layout.why)
    return Taken(source, tuple(counts), notes, False, layout is not None)


def read_for(
    cook: Cook,
    data: bytes,
    file_name: str,
    answer: Answer,
    *,
    progress: Callable[[int, int], None] | None = None,
) -> LoggerFile:
    """Read a file by the clocks of the cook, unless the layout names another zone.

    Raises IntakeError, which names the file, when it cannot be read so.
    """
    zone = time_zone(cook.time_zone)
    try:
        return read(data, answer.layout, zone=zone, start=answer.start, progress=progress)
    except IntakeError as error:
        raise IntakeError(f"{file_name}: {error}") from error


def zone_notes(found: LoggerFile, cook: Cook) -> tuple[str, ...]:
    """Return by the clocks of which zone the times were read, if they do not say it themselves."""
    if not found.zone:
        return ()
    whose = ", the cook's time zone" if found.zone == cook.time_zone else ""
    return (
        f"The times carry no offset and are read by the clocks of {found.zone}{whose}; "
        "--answer zone=… says otherwise.",
    )


def _free_handle(notebook: Notebook, trial: str, handle: str) -> str:
    """Return the handle, numbered when an earlier source has it, struck out or of another cook."""
    taken = {revision.key.handle for revision in notebook.history(Source, trial=trial)}
    number, free = 1, handle
    while free in taken:
        number += 1
        free = f"{handle}-{number}"
    return free


def _new_readings(
    series: ProbeSeries,
    probe: str,
    earlier: list[Readings],
    stays: list[Placement],
) -> tuple[Readings, TakenProbe]:
    incoming, repeated, conflicting = series.readings, series.repeated, series.conflicting
    for there in earlier:
        merged = new_only(there, incoming)
        incoming = merged.new
        repeated += merged.repeated
        conflicting += merged.conflicting
    incoming = _flagged(earlier, incoming, _kind_of(probe, stays), _moves_of(probe, stays))
    flagged = {
        str(flag.name): many
        for flag in Flag
        if (many := int(np.count_nonzero(incoming.flags & int(flag))))
    }
    return incoming, TakenProbe(
        probe,
        series.probe,
        len(incoming),
        repeated,
        conflicting,
        series.no_value,
        series.open_probe,
        flagged,
    )


_NEW = np.uint8(128)
"""Marks, while flags are worked out, which readings are new; no flag has this bit."""


def _flagged(
    earlier: list[Readings], incoming: Readings, kind: ProbeKind, moves: NDArray[np.int64] | None
) -> Readings:
    """Flag new readings among those that are there, so that file ends look like any other time."""
    marked = incoming.with_flags(np.full(len(incoming), _NEW))
    there = [part for part in earlier if part.unit == incoming.unit and len(part)]
    joined = Readings.joined([*there, marked])
    flags = flag_readings(joined, kind, moves)
    return incoming.with_flags(flags[(joined.flags & _NEW) != 0])


def _kind_of(probe: str, stays: list[Placement]) -> ProbeKind:
    """Meat moves slowly; a probe that was ever in the air during the cook is judged as air."""
    in_meat = {stay.measures in ("core", "surface") for stay in stays if stay.probe == probe}
    return "meat" if in_meat == {True} else "air"


def _moves_of(probe: str, stays: list[Placement]) -> NDArray[np.int64] | None:
    moves = [stay.since for stay in stays if stay.probe == probe]
    moves += [stay.until for stay in stays if stay.probe == probe and stay.until is not None]
    return np.array(sorted(epoch_ms(at) for at in moves), dtype=np.int64) if moves else None


def _source(
    cook: str,
    file_name: str,
    data: bytes,
    found: LoggerFile,
    counts: list[TakenProbe],
    now: datetime,
) -> Source:
    digest = hashlib.sha256(data).hexdigest()
    return Source(
        id=f"file-{digest[:12]}",
        cook=cook,
        file_name=file_name,
        sha256=digest,
        taken_in=now,
        layout=found.layout,
        rows_read=found.rows_read,
        rows_good=found.rows_good,
        rows_bad=found.rows_bad,
        rows_blank=found.rows_blank,
        readings_new=sum(count.new for count in counts),
        readings_repeated=sum(count.repeated for count in counts),
        readings_conflicting=sum(count.conflicting for count in counts),
        bad_rows=tuple(
            BadRow(line=row.line, text=row.text[:SHOWN_TEXT], why=row.reason) for row in found.bad
        ),
    )
