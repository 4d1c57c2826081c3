"""Files that grow: looked at every few seconds, read whole, and only what is new is kept.

A file is read from its first line each time it has changed. So nothing depends on where the last
look ended: not a restart, not a line half written, not a logger that writes its newest row first or
tells the hour that comes twice by the order of its rows. What was kept before is known by what it
says. A file that takes long to read is read less often.
"""

import asyncio
import json
import logging
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from sqlalchemy import Connection, insert, select, update

from fairsmoke.arriving.batch import Arrived
from fairsmoke.arriving.doubts import AFTER, check_apart, window
from fairsmoke.arriving.hub import Hub
from fairsmoke.arriving.known_layouts import (
    LayoutAnswer,
    LayoutChange,
    known_answer,
    layout_to_keep,
)
from fairsmoke.arriving.pending import Pending
from fairsmoke.arriving.probe_names import probes_of, require
from fairsmoke.arriving.take_in import read_for
from fairsmoke.arriving.writer import Writer
from fairsmoke.intake.layout import Mapping as Layout
from fairsmoke.intake.read import LoggerFile
from fairsmoke.intake.recognise import recognise
from fairsmoke.intake.series import ProbeSeries
from fairsmoke.intake.text import IntakeError
from fairsmoke.messages.errors import InputError, is_for_a_person, words_of
from fairsmoke.messages.message import N_, Words
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.app_tables import WATCH
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.probe import Probe
from fairsmoke.trial.reading import Readings

_log = logging.getLogger("fairsmoke.app")

LOOK_EVERY_S = 2.0
REST = 20
"""After a look that took a second, the next comes so many seconds later."""
AGAIN_S = 10.0
"""A file in which something is wrong is looked at again after so long."""
AT_ONCE = 2000
"""Readings of one name that are written at once; other senders come in between."""
ENDINGS = (".csv", ".tsv", ".txt", ".log", ".dat")


@dataclass(frozen=True)
class WatchedFile:
    """A file that is read as it grows, for one cook."""

    id: int
    path: Path
    trial: str
    cook: str
    answer: LayoutAnswer


@dataclass
class Looked:
    """What the last look at a file found."""

    stamp: tuple[int, int] = (0, 0)
    next_s: float = 0.0
    rows: int = 0
    bad: int = 0
    new: int = 0
    at: datetime | None = None
    wrong: Words = ""
    said: dict[tuple[str, str], Readings] = field(default_factory=dict)


def whole_lines(path: Path) -> bytes:
    """Return a file up to its last line break: what lies behind is still being written."""
    data = path.read_bytes()
    # In UTF-16 a line break is two bytes; the high one comes after (LE) or before (BE) it.
    if data.startswith(b"\xff\xfe"):
        return data[: _last_break(data, b"\n\x00")]
    if data.startswith(b"\xfe\xff"):
        return data[: _last_break(data, b"\x00\n")]
    return data[: max(data.rfind(b"\n"), data.rfind(b"\r")) + 1]


def _last_break(data: bytes, mark: bytes) -> int:
    at = data.rfind(mark)
    while at > 0 and at % 2:
        at = data.rfind(mark, 0, at + 1)
    return at + 2 if at > 0 else 0


def active(connection: Connection) -> list[WatchedFile]:
    """Return the files that are read as they grow."""
    rows = connection.execute(select(WATCH).where(WATCH.c.ended_at.is_(None)))
    return [
        WatchedFile(row.id, Path(row.path), row.trial_id, row.cook, _answer(row.answer))
        for row in rows
    ]


def _answer(content: Mapping[str, Any]) -> LayoutAnswer:
    start = content.get("start")
    return LayoutAnswer(
        Layout.from_dict(content["layout"]),
        content["probes"],
        datetime.fromisoformat(start) if start else None,
    )


class Watcher:
    """Looks at files that grow, and for new ones in the folder."""

    def __init__(
        self, book: Notebook, writer: Writer, hub: Hub, folder: Path | None, most: int
    ) -> None:
        self.folder = folder
        self.looked: dict[int, Looked] = {}
        self._book = book
        self._writer = writer
        self._hub = hub
        self._most = most
        self._offered: dict[Path, tuple[int, int]] = {}

    def files(self) -> list[Path]:
        """Return the logger files of the folder, the newest first; none without a folder."""
        if self.folder is None or not self.folder.is_dir():
            return []
        found = [
            path
            for path in self.folder.iterdir()
            if path.suffix.lower() in ENDINGS and path.is_file()
        ]
        return sorted(found, key=lambda path: path.stat().st_mtime, reverse=True)

    def file_named(self, name: str) -> Path:
        """Return a file of the folder by its name; raises InputError for anything else."""
        found = next((path for path in self.files() if path.name == name), None)
        if found is None:
            raise InputError(
                N_("There is no such file in the folder."), code="no-file", kind="missing"
            )
        if found.stat().st_size > self._most:
            message = N_(
                "That is too large: at most %(megabytes)s MB.", megabytes=self._most // 1_000_000
            )
            raise InputError(message, code="too-large", kind="too-large")
        return found

    def begin(
        self, pending: Pending, answer: LayoutAnswer, read: LoggerFile, by: str, why: str
    ) -> None:
        """Read a file as it grows from now on, all that is in it first; its layout is known then.

        Raises JobError when it was known otherwise and no reason is given.
        """
        names = require(
            probes_of([one.probe for one in read.series], answer.probes, self._book.list(Probe)),
            self._book.list(Probe),
        )
        check_apart(read, names)
        now = datetime.now(UTC)
        layout = layout_to_keep(self._book, read, answer, by=by, why=why, now=now)
        self._begin(pending.path, pending.trial, pending.cook, answer, names, by, layout)

    def _begin(
        self,
        path: Path,
        trial: str,
        cook: str,
        answer: LayoutAnswer,
        probes: Mapping[str, str],
        by: str,
        layout: LayoutChange | None = None,
    ) -> None:
        content = {
            "layout": answer.layout.to_dict(),
            "probes": dict(probes),
            "start": answer.start.isoformat() if answer.start else None,
        }
        with self._book.transaction(by=by) as transaction:
            there = transaction.connection.scalars(
                select(WATCH.c.id).where(WATCH.c.path == str(path), WATCH.c.ended_at.is_(None))
            ).first()
            if there is not None:
                raise InputError(N_("This file is read as it grows already."), code="watched")
            if layout is not None:
                transaction.save(layout.record, why=layout.why)
            transaction.connection.execute(
                insert(WATCH).values(
                    path=str(path),
                    trial_id=trial,
                    cook=cook,
                    answer=json.loads(json.dumps(content)),
                    made_by=by,
                    made_at=transaction.at,
                )
            )

    def end(self, number: int, by: str) -> None:
        """Read a file no longer; what came of it stays."""
        with self._book.transaction(by=by) as transaction:
            transaction.connection.execute(
                update(WATCH).where(WATCH.c.id == number).values(ended_at=transaction.at)
            )

    async def run(self) -> None:
        """Look until cancelled."""
        while True:
            try:
                await self.look()
            except (OSError, ValueError) as error:
                _log.warning("The watched folder is looked at later: %s", error)
            await asyncio.sleep(LOOK_EVERY_S)

    async def look(self) -> None:
        """Look at every file once, and for new ones that need no question."""
        with self._book.reading() as connection:
            watches = active(connection)
        for watch in watches:
            state = self.looked.setdefault(watch.id, Looked())
            try:
                await self._one(watch, state)
            except Exception as error:
                # One file, whatever is the matter with it, must not keep the others from coming.
                if not (isinstance(error, ValueError) and is_for_a_person(error)):
                    _log.error("%s cannot be read", watch.path, exc_info=error)
                self._wrong(watch, state, words_of(error))
                state.next_s = time.monotonic() + AGAIN_S
        if self.folder is not None:
            await asyncio.to_thread(self._adopt, {watch.path for watch in watches})

    async def _one(self, watch: WatchedFile, state: Looked) -> None:
        stamp = _stamp(watch.path)
        now_s = time.monotonic()
        if stamp is None:
            self._wrong(watch, state, N_("the file is not there"))
            return
        if stamp == state.stamp or now_s < state.next_s:
            return
        if stamp[1] > self._most:
            most = self._most // 1_000_000
            self._wrong(watch, state, N_("the file is larger than %(most)s MB", most=most))
            return
        cook = self._book.get(Cook, watch.cook, trial=watch.trial)
        if cook.ends is not None and datetime.now(UTC) - cook.ends > AFTER + timedelta(hours=1):
            self.end(watch.id, "the cook ended a day ago")
            return
        try:
            read = await asyncio.to_thread(self._read, watch, cook)
        except (IntakeError, OSError) as error:
            self._wrong(watch, state, words_of(error))
            return
        finally:
            took_s = time.monotonic() - now_s
            state.next_s = time.monotonic() + REST * took_s
        await self._write(watch, state, read, window(cook))
        state.stamp, state.wrong, state.at = stamp, "", datetime.now(UTC)
        state.rows, state.bad = read.rows_read, read.rows_bad

    def _read(self, watch: WatchedFile, cook: Cook) -> LoggerFile:
        return read_for(cook, whole_lines(watch.path), watch.path.name, watch.answer)

    def _wrong(self, watch: WatchedFile, state: Looked, why: Words) -> None:
        if state.wrong != why:
            self._hub.tell(watch.path.name, N_("Cannot be read now: %(why)s", why=why))
        state.wrong = why

    async def _write(
        self,
        watch: WatchedFile,
        state: Looked,
        read: LoggerFile,
        within: tuple[datetime, datetime],
    ) -> None:
        low, high = (round(one.timestamp() * 1000) for one in within)
        for series in read.series:
            key = (series.probe, series.readings.unit)
            if not watch.answer.probes.get(series.probe):
                continue
            fresh = _behind(state.said.get(key), series.readings).between(low, high)
            for begin in range(0, len(fresh), AT_ONCE):
                taken = await self._writer.take(
                    _arrived(watch, series, fresh.take(slice(begin, begin + AT_ONCE)))
                )
                state.new += taken.new
            state.said[key] = series.readings

    def _adopt(self, watched: set[Path]) -> None:
        """Begin with a new file whose layout and probes are known, when one cook is on."""
        now = datetime.now(UTC)
        for path in self.files():
            stamp = _stamp(path)
            if path in watched or stamp is None or self._offered.get(path) == stamp:
                continue
            self._offered[path] = stamp
            if stamp[1] > self._most or self._was_watched(path):
                continue
            running = [
                (trial.id, cook)
                for trial in self._book.trials()
                for cook in self._book.list(Cook, trial=trial.id)
                if cook.ends is None and window(cook)[0] <= now <= window(cook)[1]
            ]
            if len(running) != 1:
                continue
            trial, cook = running[0]
            try:
                found = recognise(whole_lines(path))
                answer = known_answer(self._book, found.layout)
                if answer is None or answer.layout.needs_start:
                    continue
                read = read_for(cook, whole_lines(path), path.name, answer)
                names = [one.probe for one in read.series]
                probes = probes_of(names, answer.probes, self._book.list(Probe))
                if not probes or any(probe is None for probe in probes.values()):
                    continue
                said = {name: probe or "" for name, probe in probes.items()}
                check_apart(read, said)
            except ValueError:
                # Not a logger's file, or not yet: the page of the folder says why when asked.
                continue
            low, high = window(cook)
            if not any(len(one.readings.between(_ms(low), _ms(high))) for one in read.series):
                continue
            self._begin(path, trial, cook.id, answer, said, "the watched folder")
            self._hub.tell(path.name, N_("Is laid out like files before; read as it grows."))

    def _was_watched(self, path: Path) -> bool:
        with self._book.reading() as connection:
            query = select(WATCH.c.id).where(WATCH.c.path == str(path))
            return connection.scalars(query).first() is not None


def _ms(at: datetime) -> int:
    return round(at.timestamp() * 1000)


def _stamp(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size


def _behind(before: Readings | None, now: Readings) -> Readings:
    """Return what stands behind what was said before, or all when that was not its beginning."""
    if before is None or len(before) > len(now) or before.decimals > now.decimals:
        return now
    earlier = before.with_decimals(now.decimals)
    head = slice(0, len(before))
    if np.array_equal(now.time_ms[head], earlier.time_ms) and np.array_equal(
        now.raw[head], earlier.raw
    ):
        return now.take(slice(len(before), None))
    return now


def _arrived(watch: WatchedFile, series: ProbeSeries, part: Readings) -> Arrived:
    # Flags are worked out among what is recorded; those of the file are among itself only.
    plain = Readings(part.time_ms, part.raw, part.decimals, part.unit, np.zeros_like(part.flags))
    return Arrived(
        way="file",
        whose=str(watch.id),
        sender=watch.path.name,
        batch="",
        digest="",
        received=datetime.now(UTC),
        parts={series.probe: [plain]},
        count=len(part),
        place=(watch.trial, watch.cook),
        probes={series.probe: watch.answer.probes[series.probe]},
    )
