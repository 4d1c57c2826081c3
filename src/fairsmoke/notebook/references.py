"""Whether everything that a record points at is there, and nothing points at what is struck out.

The foreign keys guard the same; these checks come first, because they can say what is wrong.
"""

from collections.abc import Iterator, Sequence

from sqlalchemy import Connection, select

from fairsmoke.messages.message import N_, Listed, Words, placed, stacked
from fairsmoke.notebook.errors import CorrectionError, NotebookError
from fairsmoke.notebook.kinds import KINDS, Key, Kind, references, spots_of, values_at
from fairsmoke.notebook.readings import shown
from fairsmoke.notebook.rows import kinds_pointing_at, known_handles, load_kept
from fairsmoke.notebook.tables import LOOSE_READING, READING_BLOCK, TABLES
from fairsmoke.trial.base import Record
from fairsmoke.trial.cook import Cooker
from fairsmoke.trial.nouns import noun
from fairsmoke.trial.question import Trial


def check_references(connection: Connection, written: Sequence[tuple[Key, Record]]) -> None:
    """Raise NotebookError that lists every handle that leads nowhere."""
    problems = list(_dangling(connection, written))
    if problems:
        raise NotebookError(stacked(problems))


def _dangling(connection: Connection, written: Sequence[tuple[Key, Record]]) -> Iterator[Words]:
    wanted: dict[tuple[str, str], dict[str, list[Key]]] = {}

    def want(target: str, trial_id: str, handle: str, key: Key) -> None:
        owner = trial_id if KINDS[target].of_trial else ""
        wanted.setdefault((target, owner), {}).setdefault(handle, []).append(key)

    for key, record in written:
        kind = KINDS[key.kind]
        if kind.of_trial:
            want("trial", key.trial, key.trial, key)
        for _, target, handle in references(kind, record):
            want(target, key.trial, handle, key)
    for (target, owner), by_handle in wanted.items():
        kind = KINDS[target]
        there = known_handles(connection, kind, owner, by_handle)
        for handle in by_handle:
            if handle not in there:
                known = sorted(known_handles(connection, kind, owner))
                yield _nowhere(by_handle[handle][0], target, handle, known)
    yield from _dangling_inside(connection, written)


def _nowhere(key: Key, what: str, handle: str, known: Sequence[str]) -> Words:
    return placed(
        key.words,
        N_(
            "there is no %(what)s '%(handle)s' (known: %(known)s)",
            what=noun(what),
            handle=handle,
            known=", ".join(known) or N_("none recorded yet"),
        ),
    )


def _dangling_inside(
    connection: Connection, written: Sequence[tuple[Key, Record]]
) -> Iterator[Words]:
    trials: dict[str, Trial | None] = {}
    spots: set[str] | None = None
    for key, record in written:
        for path, part in KINDS[key.kind].inside.items():
            for handle in values_at(record, path):
                if key.trial not in trials:
                    trials[key.trial] = _trial(connection, key.trial)
                trial = trials[key.trial]
                known = [one.id for one in getattr(trial, part)] if trial else []
                if trial is not None and handle not in known:
                    yield _nowhere(key, part.removesuffix("s"), handle, known)
        for cooker, position in spots_of(record):
            if spots is None:
                spots = _spots(connection)
            if f"{cooker}/{position}" not in spots:
                yield _nowhere(key, "position", f"{cooker}/{position}", sorted(spots))


def _trial(connection: Connection, trial_id: str) -> Trial | None:
    for kept in load_kept(connection, KINDS["trial"], "", [trial_id]):
        assert isinstance(kept.record, Trial)
        return kept.record
    return None


def _spots(connection: Connection) -> set[str]:
    found = set()
    for kept in load_kept(connection, KINDS["cooker"], ""):
        assert isinstance(kept.record, Cooker)
        found |= {f"{kept.record.id}/{position.id}" for position in kept.record.positions}
    return found


def check_unused(connection: Connection, struck: Sequence[Key]) -> None:
    """Raise CorrectionError when something that stays points at what was struck out.

    A whole trial may be struck out with everything in it.
    """
    problems: list[Words] = []
    for key in struck:
        users = sorted(set(_users(connection, key)), key=str) if key.kind != "trial" else []
        if users:
            problems.append(
                N_(
                    "%(key)s cannot be struck out while it is used by %(users)s; strike those out "
                    "or correct them first",
                    key=key.words,
                    users=_first_five(users),
                )
            )
    if problems:
        raise CorrectionError(stacked(problems))


def _first_five(users: Sequence[Words]) -> Words:
    if len(users) <= 5:
        return Listed(users)
    return N_("%(users)s and %(more)s more", users=Listed(users[:5]), more=len(users) - 5)


def _users(connection: Connection, key: Key) -> Iterator[Words]:
    target = KINDS[key.kind]
    for kind, path in kinds_pointing_at(target):
        owners = [key.trial] if target.of_trial else _trials_that_stay(connection, kind)
        for owner in owners:
            for kept in load_kept(connection, kind, owner):
                if key.handle in values_at(kept.record, path):
                    yield kept.key.words
    if key.kind == "probe":
        for readings in (READING_BLOCK.c, LOOSE_READING.c):
            query = (
                select(readings.trial_id, readings.cook)
                .where(readings.probe == key.handle, shown(readings))
                .distinct()
            )
            for trial_id, cook in connection.execute(query):
                yield N_(
                    "readings in cook '%(cook)s' of trial '%(trial_id)s'",
                    cook=cook,
                    trial_id=trial_id,
                )


def _trials_that_stay(connection: Connection, kind: Kind) -> list[str]:
    if not kind.of_trial:
        return [""]
    table = TABLES["trial"]
    return list(connection.scalars(select(table.c.id).where(~table.c.struck)))


def check_readings_place(
    connection: Connection, trial_id: str, cook: str, probes: Sequence[str]
) -> None:
    """Raise NotebookError when readings would belong to a cook or a probe that is not there."""
    problems: list[Words] = []
    for target, owner, handles in (
        ("trial", "", [trial_id]),
        ("cook", trial_id, [cook]),
        ("probe", "", probes),
    ):
        known = known_handles(connection, KINDS[target], owner)
        problems += [
            N_(
                "readings in cook '%(cook)s': there is no %(what)s '%(handle)s' (known: %(known)s)",
                cook=cook,
                what=noun(target),
                handle=handle,
                known=", ".join(sorted(known)) or N_("none recorded yet"),
            )
            for handle in handles
            if handle not in known
        ]
    if problems:
        raise NotebookError(stacked(problems))
