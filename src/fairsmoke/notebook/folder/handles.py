"""Handles that a person did not write: which recorded thing a numbered record of a folder is.

A number counts the records of a file, so writing one more line at the top would make every
record after it look changed. A folder's numbered records are therefore first matched with what
is recorded by what they say; what is left over is taken for edited, the most alike first; the rest
is new.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from sqlalchemy import Connection

from fairsmoke.notebook.folder.content import TrialContent
from fairsmoke.notebook.kinds import Kind
from fairsmoke.notebook.rows import load_kept
from fairsmoke.trial.base import Record


def with_known_handles(connection: Connection, trial: TrialContent) -> TrialContent:
    """Return the trial's content with numbered records under the handles they have here."""
    records = dict(trial.records)
    for kind, numbered in trial.numbered.items():
        kept = [one.record for one in load_kept(connection, kind, trial.trial.id)]
        records[kind] = _matched(kind, records[kind], numbered, kept)
    return replace(trial, records=records)


def _matched(
    kind: Kind, given: Sequence[Record], numbered: frozenset[str], kept: Sequence[Record]
) -> tuple[Record, ...]:
    written = {kind.handle_of(one) for one in given} - numbered
    free = {kind.handle_of(one): one for one in kept if kind.handle_of(one) not in written}
    known: dict[str, str] = {}
    for one in given:
        handle = kind.handle_of(one)
        if handle in numbered:
            same = (there for there, record in free.items() if _says_the_same(one, record))
            found = next(same, None)
            if found is not None:
                known[handle] = found
                del free[found]
    left = {
        handle: one
        for one in given
        if (handle := kind.handle_of(one)) in numbered and handle not in known
    }
    known |= _edited(kind, left, free)
    taken = written | {kind.handle_of(one) for one in kept} | set(known.values())
    for handle in left:
        if handle not in known:
            known[handle] = _next_free(handle, taken)
            taken.add(known[handle])
    return tuple(_under(one, known.get(kind.handle_of(one))) for one in given)


def _edited(kind: Kind, left: Mapping[str, Record], free: Mapping[str, Record]) -> dict[str, str]:
    """Pair what matched nothing with what nothing matched, the most alike first."""
    # Only a handle that was numbered itself can be that of an unnumbered line.
    waiting = [handle for handle in free if re.fullmatch(rf".*{kind.name}-\d+", handle)]
    alike = sorted(
        (
            (-_fields_alike(left[one], free[there]), at, one, there)
            for at, one in enumerate(left)
            for there in waiting
            if _stem(one) == _stem(there)
        ),
        key=lambda found: found[:2],
    )
    pairs: dict[str, str] = {}
    for _, _, one, there in alike:
        if one not in pairs and there not in pairs.values():
            pairs[one] = there
    return pairs


def _fields_alike(one: Record, other: Record) -> int:
    return sum(getattr(one, name) == getattr(other, name) for name in type(one).model_fields)


def _stem(handle: str) -> str:
    return re.sub(r"\d+$", "", handle)


def _next_free(handle: str, taken: Iterable[str]) -> str:
    used = set(taken)
    stem, number = _stem(handle), int(re.findall(r"\d+$", handle)[0])
    while f"{stem}{number}" in used:
        number += 1
    return f"{stem}{number}"


def _says_the_same(one: Record, other: Record) -> bool:
    return _under(one, str(getattr(other, "id"))) == other  # noqa: B009


def _under(record: Record, handle: str | None) -> Record:
    return record if handle is None else record.model_copy(update={"id": handle})
