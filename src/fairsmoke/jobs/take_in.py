"""Take a logger's file into a notebook: each reading once, flagged, with its source."""

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from fairsmoke.intake.flags import ProbeKind, flag_readings
from fairsmoke.intake.layout import Mapping as Layout
from fairsmoke.intake.merge import new_only
from fairsmoke.intake.read import LoggerFile, read
from fairsmoke.intake.series import ProbeSeries
from fairsmoke.jobs.errors import JobError
from fairsmoke.notebook import Notebook
from fairsmoke.trial.clock import epoch_ms, time_zone
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.kitchen import KnownLayout
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.reading import Flag, Readings
from fairsmoke.trial.source import BadRow, Source

SHOWN_TEXT = 2000
"""Longest text of a bad row that is kept; a damaged file may hold megabytes in one line."""


@dataclass(frozen=True)
class Answer:
    """All that reading a logger's file needs from a person.

    ``probes`` tells which probe each of the file's names is; a name that is a probe's own handle
    or name need not be there. A name given as "" is not taken in.
    """

    layout: Layout
    probes: Mapping[str, str] = field(default_factory=dict)
    start: datetime | None = None


@dataclass(frozen=True)
class TakenProbe:
    """What came in for one probe."""

    probe: str
    file_name: str
    new: int
    repeated: int
    conflicting: int
    no_value: int
    flagged: Mapping[str, int]


@dataclass(frozen=True)
class Taken:
    """What came of taking a file in. ``already`` is True when that very file was in before."""

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
    now: datetime | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Taken:
    """Take a logger's file in for a cook, wholly or not at all.

    Readings that are there already add nothing; flags are worked out from each probe's placements.
    The layout, once used, is known: files laid out alike need no answer again.
    Raises IntakeError when the file cannot be read so, JobError when a probe is not known.
    """
    cook = notebook.get(Cook, cook_id, trial=trial)
    zone = time_zone(cook.time_zone)
    found = read(data, answer.layout, zone=zone, start=answer.start, progress=progress)
    names = _probe_ids(notebook, found, answer)
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
    source = _source(cook_id, file_name, data, found, counts, now or datetime.now(UTC))
    known = notebook.source_of_file(trial, cook_id, source.sha256)
    if known is not None:
        first = notebook.get(Source, known, trial=trial)
        return Taken(first, tuple(counts), found.notes, True, False)
    is_new = _remember_layout(notebook, found, answer, by, source.taken_in)
    notebook.add_source(trial, source, {p: parts[0] for p, parts in ready.items()}, by=by)
    for probe, parts in ready.items():
        # A logger whose unit was switched in the middle gives a second stretch in the other unit.
        for part in parts[1:]:
            notebook.add_readings(trial, cook_id, {probe: part}, source=source.id)
    return Taken(source, tuple(counts), found.notes, False, is_new)


def known_answer(notebook: Notebook, layout: str) -> Answer | None:
    """Return how files of that layout were read before, None when there was none."""
    for known in notebook.list(KnownLayout):
        if known.id == layout:
            content = json.loads(known.mapping)
            return Answer(Layout.from_dict(content["layout"]), content["probes"])
    return None


def _remember_layout(
    notebook: Notebook, found: LoggerFile, answer: Answer, by: str, now: datetime
) -> bool:
    if any(known.id == found.layout for known in notebook.list(KnownLayout)):
        return False
    content = {"layout": answer.layout.to_dict(), "probes": dict(answer.probes)}
    name = ", ".join(series.probe for series in found.series)[:200] or "no probes"
    mapping = json.dumps(content, ensure_ascii=False)
    known = KnownLayout(id=found.layout, name=name, mapping=mapping, confirmed=now, by=by)
    notebook.save(known, by=by)
    return True


def _probe_ids(notebook: Notebook, found: LoggerFile, answer: Answer) -> dict[str, str]:
    probes = notebook.list(Probe)
    own = {probe.id.casefold(): probe.id for probe in probes}
    own |= {probe.name.casefold(): probe.id for probe in probes}
    names: dict[str, str] = {}
    for name in dict.fromkeys(series.probe for series in found.series):
        given = answer.probes.get(name, own.get(name.casefold()))
        if given is None or (given and given not in {probe.id for probe in probes}):
            known = ", ".join(probe.id for probe in probes) or "none recorded yet"
            raise JobError(
                f"which probe is {name!r} of this file? Known probes: {known}. "
                f"Say --probe '{name}=HANDLE', or '{name}=' to leave it out"
            )
        names[name] = given
    return names


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
        probe, series.probe, len(incoming), repeated, conflicting, series.no_value, flagged
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
