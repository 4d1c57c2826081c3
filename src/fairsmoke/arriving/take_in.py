"""Take a logger's file into a notebook: each reading once, flagged, with its source."""

import hashlib
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from fairsmoke.arriving.doubts import check_apart, check_belongs
from fairsmoke.arriving.file_before import (
    check_read_alike,
    probes_in,
    reading_told,
    sources_of_file,
)
from fairsmoke.arriving.known_layouts import LayoutAnswer, known_answer, layout_to_keep
from fairsmoke.arriving.other_cooks import NONE, check_some_left, cooks_of_times, left_notes
from fairsmoke.arriving.probe_names import probes_of, require
from fairsmoke.intake.flags import ProbeKind, flag_readings
from fairsmoke.intake.merge import new_only
from fairsmoke.intake.read import LoggerFile, read
from fairsmoke.intake.series import ProbeSeries
from fairsmoke.intake.text import IntakeError
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, Message, OnFace, placed
from fairsmoke.notebook import Notebook
from fairsmoke.trial.clock import epoch_ms, time_zone
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.reading import Flag, Readings
from fairsmoke.trial.source import BadRow, Source

__all__ = [
    "LayoutAnswer",
    "Taken",
    "TakenProbe",
    "known_answer",
    "read_for",
    "take_in",
    "zone_notes",
]

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

    ``layout_was_new`` when files laid out alike need no answer from now on. ``left`` counts the
    readings that belong to other cooks of the trial, by their handles.
    """

    source: Source
    probes: tuple[TakenProbe, ...]
    notes: tuple[Message, ...]
    already: bool
    layout_was_new: bool
    left: Mapping[str, int]


def take_in(
    notebook: Notebook,
    trial: str,
    cook_id: str,
    data: bytes,
    file_name: str,
    answer: LayoutAnswer,
    *,
    by: str = "",
    why: str = "",
    anyway: bool = False,
    found: LoggerFile | None = None,
    now: datetime | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Taken:
    """Take a logger's file in for a cook, wholly or not at all.

    Readings that are there already add nothing, so the same file again adds only the probes that
    were left out; those of other cooks of the trial are left to them. Flags are worked out from
    each probe's placements.
    The layout, once used, is known: files laid out alike need no answer again. ``why`` corrects a
    layout that was known otherwise. ``found`` is the file as ``read_for`` read it, if it was.
    Raises IntakeError when the file cannot be read so, JobError when a probe is not known or the
    file was taken in before in another way,
    DoubtError when the readings hardly belong to the cook, unless ``anyway``.
    """
    cook = notebook.get(Cook, cook_id, trial=trial)
    found = found or read_for(cook, data, file_name, answer, progress=progress)
    probes = notebook.list(Probe)
    names = require(probes_of([one.probe for one in found.series], answer.probes, probes), probes)
    check_apart(found, names)
    told = reading_told(found, answer, names)
    digest = hashlib.sha256(data).hexdigest()
    before = sources_of_file(notebook, trial, cook_id, digest)
    check_read_alike(before, told)
    stays = [s for s in notebook.list(Placement, trial=trial) if s.cook == cook_id]
    ready, counts, left = _sorted_out(notebook, trial, cook, found, names, stays, before)
    notes = (*zone_notes(found, cook), *found.notes, *left_notes(cook_id, left))
    if before and not any(count.new for count in counts):
        return Taken(before[0], tuple(counts), notes, True, False, left)
    if not anyway:
        check_belongs(cook, stays, ready)
    at = now or datetime.now(UTC)
    layout = layout_to_keep(notebook, found, answer, by=by, why=why, now=at)
    handle = _free_handle(notebook, trial, _handle(digest, cook_id))
    source = _source(handle, cook_id, file_name, digest, found, counts, at, told)
    added = notebook.add_source(
        trial,
        source,
        ready,
        by=by,
        why=layout.why if layout else "",
        beside=[one.id for one in before],
        layout=layout.record if layout else None,
    )
    if not added:
        raise JobError(
            N_("%(file_name)s is being taken in by another program; try again", file_name=file_name)
        )
    return Taken(source, tuple(counts), notes, False, layout is not None, left)


def _sorted_out(
    notebook: Notebook,
    trial: str,
    cook: Cook,
    found: LoggerFile,
    names: Mapping[str, str],
    stays: list[Placement],
    before: Sequence[Source],
) -> tuple[dict[str, list[Readings]], list[TakenProbe], dict[str, int]]:
    """Return what is new of each probe, what is told of it, and how many are other cooks'."""
    others = [one for one in notebook.list(Cook, trial=trial) if one.id != cook.id]
    whole = probes_in(notebook, trial, before)
    ready: dict[str, list[Readings]] = {}
    counts: list[TakenProbe] = []
    left: Counter[str] = Counter()
    own = 0
    for series in found.series:
        probe = names[series.probe]
        if not probe:
            continue
        whose = cooks_of_times(series.readings.time_ms, cook, others)
        for index in np.unique(whose[whose != NONE]).tolist():
            left[others[index].id] += int(np.count_nonzero(whose == index))
        mine = series.readings.take(whose == NONE)
        own += len(mine)
        earlier = [notebook.readings(trial, cook.id, probe), *ready.get(probe, [])]
        if probe in whole:
            mine = mine.take(slice(0))
        new, count = _new_readings(replace(series, readings=mine), probe, earlier, stays)
        counts.append(count)
        ready.setdefault(probe, []).append(new)
    check_some_left(cook.id, left, own)
    return ready, counts, dict(left)


def read_for(
    cook: Cook,
    data: bytes,
    file_name: str,
    answer: LayoutAnswer,
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
        raise IntakeError(placed(file_name, error)) from error


def zone_notes(found: LoggerFile, cook: Cook) -> tuple[Message, ...]:
    """Return by the clocks of which zone the times were read, if they do not say it themselves."""
    if not found.zone:
        return ()
    whose = N_(", the cook's time zone") if found.zone == cook.time_zone else ""
    return (
        N_(
            "The times carry no offset and are read by the clocks of "
            "%(zone)s%(whose)s; %(otherwise)s.",
            otherwise=OnFace(
                N_("--answer zone=… says otherwise"), N_("choose another zone if that is wrong")
            ),
            zone=found.zone,
            whose=whose,
        ),
    )


def _handle(digest: str, cook: str) -> str:
    """Return a handle that tells the file and the cook: one log may be taken in for several."""
    return f"file-{digest[:12]}-{cook[:30]}".rstrip("-")


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
    incoming = _flagged(earlier, incoming, kind_of(probe, stays), moves_of(probe, stays))
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


def kind_of(probe: str, stays: Sequence[Placement]) -> ProbeKind:
    """Meat moves slowly; a probe that was ever in the air during the cook is judged as air."""
    in_meat = {stay.measures in ("core", "surface") for stay in stays if stay.probe == probe}
    return "meat" if in_meat == {True} else "air"


def moves_of(probe: str, stays: Sequence[Placement]) -> NDArray[np.int64] | None:
    """Return the times at which a probe is known to have been moved, None when there is none."""
    moves = [stay.since for stay in stays if stay.probe == probe]
    moves += [stay.until for stay in stays if stay.probe == probe and stay.until is not None]
    return np.array(sorted(epoch_ms(at) for at in moves), dtype=np.int64) if moves else None


def _source(
    handle: str,
    cook: str,
    file_name: str,
    digest: str,
    found: LoggerFile,
    counts: list[TakenProbe],
    now: datetime,
    told: str,
) -> Source:
    return Source(
        id=handle,
        cook=cook,
        file_name=file_name,
        sha256=digest,
        taken_in=now,
        layout=found.layout,
        mapping=told,
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
