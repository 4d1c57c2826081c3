"""Taking readings in: a logger file at once, or more of what a device sends."""

from collections.abc import Collection, Mapping, Sequence

from sqlalchemy import Connection, select

from fairsmoke.messages.message import N_
from fairsmoke.notebook.errors import CorrectionError, NotebookError
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.readings import add_blocks, load_readings
from fairsmoke.notebook.references import check_readings_place
from fairsmoke.notebook.rows import known_handles, load_kept
from fairsmoke.notebook.tables import TABLES
from fairsmoke.notebook.writer import RecordState, Stamp, write
from fairsmoke.trial.kitchen import KnownLayout
from fairsmoke.trial.reading import Readings
from fairsmoke.trial.record import ReadingKey
from fairsmoke.trial.source import Source


def take_in(
    connection: Connection,
    trial_id: str,
    source: Source,
    readings: Mapping[str, Readings | Sequence[Readings]],
    stamp: Stamp,
    *,
    beside: Collection[str] = (),
    layout: KnownLayout | None = None,
) -> bool:
    """Write a logger file's source and readings; return False when that file was taken in before.

    ``beside`` are the handles of those sources of the file that the readings were compared with.
    Raises NotebookError when its handle is taken by another file.
    """
    if set(sources_of_file(connection, trial_id, source.cook, source.sha256)) != set(beside):
        return False
    kind = KINDS["source"]
    if load_kept(connection, kind, trial_id, [source.id], struck=True):
        raise NotebookError(
            N_(
                "source '%(source)s' is another file, taken in before; give this one its "
                "own handle",
                source=source.id,
            )
        )
    # The reason is for the layout, which may have been known otherwise; a source is new.
    write(
        connection, [RecordState(kind.key(trial_id, source.id), source)], Stamp(stamp.at, stamp.by)
    )
    if layout is not None:
        key = KINDS["known_layout"].key("", layout.id)
        write(connection, [RecordState(key, layout)], stamp)
    check_readings_place(connection, trial_id, source.cook, list(readings))
    add_blocks(connection, trial_id, source.cook, source.id, readings)
    return True


def file_taken_in(connection: Connection, trial_id: str, cook: str, sha256: str) -> str | None:
    """Return the handle of a source that took that file in for that cook, if one did."""
    return next(iter(sources_of_file(connection, trial_id, cook, sha256)), None)


def sources_of_file(
    connection: Connection, trial_id: str, cook: str, sha256: str
) -> tuple[str, ...]:
    """Return the handles of the sources that took that file in for that cook."""
    source = TABLES["source"].c
    query = select(source.id).where(
        source.trial_id == trial_id,
        source.cook == cook,
        source.sha256 == sha256,
        ~source.struck,
    )
    return tuple(connection.scalars(query))


def add(
    connection: Connection,
    trial_id: str,
    cook: str,
    readings: Mapping[str, Readings | Sequence[Readings]],
    source: str | None,
) -> int:
    """Write more readings, behind those that are there; return how many."""
    check_readings_place(connection, trial_id, cook, list(readings))
    if source is not None:
        known = known_handles(connection, KINDS["source"], trial_id)
        if source not in known:
            raise NotebookError(
                N_(
                    "readings in cook '%(cook)s': there is no source '%(source)s' (known: "
                    "%(known)s)",
                    cook=cook,
                    source=source,
                    known=", ".join(sorted(known)) or "none recorded yet",
                )
            )
    return add_blocks(connection, trial_id, cook, source, readings)


def add_missing(
    connection: Connection, trial_id: str, readings: Mapping[ReadingKey, Readings]
) -> int:
    """Write readings of which the notebook has none yet, without a source.

    Returns of how many probes in cooks. Raises CorrectionError when it has others of the same
    probe and cook.
    """
    added = 0
    for (cook, probe), one in readings.items():
        there = load_readings(connection, trial_id, cook, probe)
        if not len(there):
            added += 1 if add(connection, trial_id, cook, {probe: one}, None) else 0
        elif not there.same_as(one):
            raise CorrectionError(
                N_(
                    "readings of probe '%(probe)s' in cook '%(cook)s' differ from those in "
                    "the notebook; readings are never changed: leave some out with an "
                    "exclusion, or strike out their source and take the file in again",
                    probe=probe,
                    cook=cook,
                )
            )
    return added
