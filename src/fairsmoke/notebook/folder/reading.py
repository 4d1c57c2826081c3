"""Reading a whole folder: every problem is found before anything is done with it."""

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from fairsmoke.messages.message import N_, Message, placed
from fairsmoke.notebook.errors import FolderError, FolderProblem
from fairsmoke.notebook.folder import layout
from fairsmoke.notebook.folder.content import (
    FolderContent,
    Records,
    TrialContent,
    kitchen_of,
    trial_among_all,
)
from fairsmoke.notebook.folder.files import FolderFiles, listed
from fairsmoke.notebook.folder.history import read_history
from fairsmoke.notebook.folder.trial import TrialReader
from fairsmoke.notebook.kinds import KINDS, Key, Kind, references
from fairsmoke.trial.base import Record
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.nouns import noun

_HANDLE = re.compile(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?")


def read_folder(folder: Path | str) -> FolderContent:
    """Return what a folder holds, whether written by hand or exported.

    Raises FolderError with every problem: file, line, key and the mend. What does not fit
    together is looked for once each file by itself is sound.
    """
    root = Path(folder)
    if not root.is_dir():
        raise FolderError([FolderProblem(str(root), None, "", N_("is not a folder"))])
    if (root / layout.TRIAL_FILE).exists():
        message = N_("is one trial's folder; name the folder around it, which has kitchen.yaml")
        raise FolderError([FolderProblem(str(root), None, "", message)])
    files = FolderFiles(root)
    files.unknown_files(".", (layout.KITCHEN_FILE, layout.HISTORY_FILE))
    shared, zone = _read_kitchen(files)
    content = files.content(layout.HISTORY_FILE)
    history = read_history(content or b"", layout.HISTORY_FILE, "", files.problems)
    trials = []
    for name in _trial_folders(files):
        trial = TrialReader(files, name, zone).read()
        trials += [trial] if trial is not None else []
    if not files.problems:
        for trial in trials:
            files.problems += _misfits(files, shared, trial)
    if files.problems:
        raise FolderError(files.problems)
    trials.sort(key=_first_recorded)
    return FolderContent(shared, history, tuple(trials), files.problem_at)


def _first_recorded(trial: TrialContent) -> tuple[bool, datetime, str]:
    # What has no history yet comes last.
    if not trial.history:
        return True, datetime.max.replace(tzinfo=UTC), trial.trial.id
    return False, trial.history[0].recorded_at, trial.trial.id


def _read_kitchen(files: FolderFiles) -> tuple[Records, ZoneInfo | None]:
    marked = files.load(layout.KITCHEN_FILE)
    if marked is None:
        if not (files.root / layout.KITCHEN_FILE).exists():
            files.add(
                layout.KITCHEN_FILE, N_("is missing: it names the cookers, scales and probes")
            )
        return {}, ZoneInfo("UTC")
    files.unknown_keys(marked, layout.KITCHEN_KEYS)
    found: dict[Kind, tuple[Record, ...]] = {}
    zone: ZoneInfo | None = None
    kitchen_kind = KINDS["kitchen"]
    if "kitchen" in marked.value:
        content = marked.value["kitchen"]
        kitchen = files.record(marked, ("kitchen",), kitchen_kind, content, None)
        found[kitchen_kind] = () if kitchen is None else (kitchen,)
        own = kitchen_of(found)
        zone = time_zone(own.time_zone) if own is not None else ZoneInfo("UTC")
    for key, kind in layout.KITCHEN_KEYS.items():
        if not kind.only_one:
            found[kind] = tuple(files.records(marked, key, kind, zone))
    return found, zone


def _trial_folders(files: FolderFiles) -> Iterator[str]:
    for path in sorted(files.root.iterdir()):
        if not path.is_dir() or path.name.startswith("."):
            continue
        if not any(path.glob("*.yaml")) and not (path / layout.COOKS).is_dir():
            continue
        if _HANDLE.fullmatch(path.name) and len(path.name) <= 60:
            yield path.name
        else:
            message = N_("a trial's folder is called by its handle: small letters, digits, hyphens")
            files.add(path.name, message)


def _misfits(files: FolderFiles, shared: Records, trial: TrialContent) -> Iterator[FolderProblem]:
    """Yield what does not fit together inside one trial and with the kitchen."""
    handle = trial.trial.id
    known = {
        kind.name: [kind.handle_of(one) for one in records]
        for kind, records in {**shared, **trial.records}.items()
    }
    said = set()
    for key, field, message in _dangling(handle, trial, known):
        said.add(str(placed(key.words, message)))
        yield files.problem_at(key, message, field)
    yield from _reading_misfits(trial, known)
    yield from _photo_misfits(trial, known)
    for problem in trial_among_all(shared, trial).problems():
        if str(problem) in said:
            continue
        found = re.match(r"([a-z]+) '([^']+)': ", str(problem))
        kind = KINDS.get(found[1]) if found else None
        if found is None or kind is None:
            yield files.problem_at(KINDS["trial"].key(handle, handle), problem)
        else:
            # What stands behind the place of a message made by `placed`.
            yield files.problem_at(kind.key(handle, found[2]), problem.values["part1"])


def _dangling(
    trial_id: str, trial: TrialContent, known: dict[str, list[str]]
) -> Iterator[tuple[Key, str, Message]]:
    for kind, records in trial.records.items():
        for record in records:
            key = kind.key(trial_id, kind.handle_of(record))
            for field, target, handle in references(kind, record):
                handles = known.get(target, [])
                if handle not in handles:
                    text = N_(
                        "there is no %(what)s '%(handle)s' (known: %(known)s)",
                        what=noun(target),
                        handle=handle,
                        known=listed(handles),
                    )
                    yield key, field, text


def _photo_misfits(trial: TrialContent, known: dict[str, list[str]]) -> Iterator[FolderProblem]:
    # The photos of an event that was struck out are kept with it.
    events = {*known.get("event", []), *(r.key.handle for r in trial.history if _is_event(r.key))}
    numbered = trial.numbered.get(KINDS["event"], frozenset())
    for one in trial.photos:
        event = one.photo.event
        if event in numbered:
            text = N_(
                "event '%(event)s' has this handle only by its place; write 'id' to that event",
                event=event,
            )
            yield one.problem(N_("%(wrong)s, and the same here", wrong=text))
        elif event not in events:
            mend = N_("put the event back, or take the photo off the list")
            text = N_(
                "there is no event '%(event)s' (known: %(known)s)",
                event=event,
                known=listed(sorted(events)),
            )
            yield one.problem(N_("%(wrong)s; %(mend)s", wrong=text, mend=mend))


def _is_event(key: Key) -> bool:
    return key.kind == "event"


def _reading_misfits(trial: TrialContent, known: dict[str, list[str]]) -> Iterator[FolderProblem]:
    struck: set[Key] = set()
    for revision in trial.history:
        (struck.add if revision.struck else struck.discard)(revision.key)
    gone = {name: [key.handle for key in struck if key.kind == name] for name in ("cook", "source")}
    for one in trial.series:
        ending = f"{layout.HIDDEN if one.hidden else ''}.csv"
        file = f"{trial.trial.id}/{layout.READINGS}/{one.cook}/{one.probe}{ending}"
        if one.probe not in known.get("probe", []):
            text = N_(
                "there is no probe '%(probe)s' (known: %(known)s)",
                probe=one.probe,
                known=listed(known.get("probe", [])),
            )
            yield FolderProblem(file, None, "", text)
        is_gone = one.cook in gone["cook"] or one.source in gone["source"]
        if one.hidden and not is_gone:
            text = N_("neither its cook nor its source was struck out; take '.struck' off its name")
            yield FolderProblem(file, None, "", text)
        if one.hidden:
            continue
        for what, handle in (("cook", one.cook), ("source", one.source)):
            handles = known.get(what, [])
            if handle is not None and handle not in handles:
                text = N_(
                    "there is no %(what)s '%(handle)s' (known: %(known)s)",
                    what=noun(what),
                    handle=handle,
                    known=listed(handles),
                )
                yield FolderProblem(file, None, "", text)
