"""Reading records out of a folder's files while collecting what is wrong and where."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from fairsmoke.messages.message import N_, Words
from fairsmoke.notebook.errors import FolderProblem, did_you_mean
from fairsmoke.notebook.folder.problems import record_problems
from fairsmoke.notebook.folder.yaml_text import Marked, Place, read_yaml
from fairsmoke.notebook.kinds import Key, Kind
from fairsmoke.trial.base import Record
from fairsmoke.trial.weighing import Weighing

R = TypeVar("R", bound=Record)

Prepare = Callable[[int, dict[str, Any]], dict[str, Any]]
"""Adds to the keys of a list's n-th record what its place in the folder says."""

_READ_ENDINGS = frozenset({".yaml", ".yml", ".csv"})


class FolderFiles:
    """The files of one folder, the problems found in them, and where each record stands."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.problems: list[FolderProblem] = []
        self._places: dict[Key, tuple[Marked, Place]] = {}

    def add(self, file: str, message: Words) -> None:
        """Note a problem with a file as a whole."""
        self.problems.append(FolderProblem(file, None, "", message))

    def content(self, file: str) -> bytes | None:
        """Return what stands in a file, or None when it is not there or cannot be read."""
        try:
            return (self.root / file).read_bytes()
        except FileNotFoundError:
            return None
        except OSError as error:
            self.add(file, N_("cannot be read: %(strerror)s", strerror=error.strerror))
            return None

    def load(self, file: str) -> Marked | None:
        """Return the keys and values of a YAML file, or None when it is missing or unreadable."""
        content = self.content(file)
        marked = None if content is None else read_yaml(content, file, self.problems)
        if marked is not None and not isinstance(marked.value, dict):
            self.add(file, N_("must begin with keys, as in 'name: ...'"))
            return None
        return marked

    def unknown_files(self, folder: str, known: Iterable[str]) -> None:
        """Note files that look as if they were to be read but have an unknown name."""
        expected = list(known)
        place = self.root / folder
        for found in sorted(place.iterdir()) if place.is_dir() else ():
            if found.is_file() and found.suffix in _READ_ENDINGS and found.name not in expected:
                name = f"{folder}/{found.name}".removeprefix("./")
                self.add(
                    name,
                    N_(
                        "unknown file%(hint)s",
                        hint=did_you_mean(found.name, expected),
                    ),
                )

    def unknown_keys(self, marked: Marked, known: Iterable[str]) -> None:
        """Note the keys of a file that mean nothing there."""
        expected = list(known)
        for key in marked.value:
            if key not in expected:
                hint = did_you_mean(key, expected)
                self.problems.append(marked.problem((key,), N_("unknown key%(hint)s", hint=hint)))

    def record(
        self,
        marked: Marked,
        place: Place,
        kind: Kind,
        content: Any,
        zone: ZoneInfo | None,
        trial_id: str = "",
    ) -> Record | None:
        """Return the record at a place of a file, or None when something is wrong with it."""
        try:
            record = from_file_form(kind.model, content, zone)
        except ValidationError as error:
            self.problems += record_problems(marked, place, kind.model, error)
            return None
        key = kind.key(trial_id, kind.handle_of(record))
        if key in self._places:
            first, first_place = self._places[key]
            there = N_(
                "%(file)s, line %(line)s", file=first.file, line=str(first.line_of(first_place))
            )
            message = N_(
                "%(key)s is there already (%(there)s); give each its own id",
                key=key.words,
                there=there,
            )
            self.problems.append(marked.problem(place, message))
            return None
        self._places[key] = (marked, place)
        return record

    def records(
        self,
        marked: Marked,
        key: str,
        kind: Kind,
        zone: ZoneInfo | None,
        trial_id: str = "",
        prepare: Prepare | None = None,
    ) -> list[Record]:
        """Return the records in the list under a key; none when the key is not there."""
        found = []
        for number, entry in enumerate(self._entries(marked, key)):
            content = prepare(number, entry) if prepare and isinstance(entry, dict) else entry
            record = self.record(marked, (key, number), kind, content, zone, trial_id)
            found += [record] if record is not None else []
        return found

    def beside(
        self, marked: Marked, key: str, model: type[R], zone: ZoneInfo | None
    ) -> Iterator[tuple[int, R]]:
        """Yield what stands in the list under a key and is no record of the notebook, numbered."""
        for number, entry in enumerate(self._entries(marked, key)):
            try:
                yield number, model.from_file(entry, zone)
            except ValidationError as error:
                self.problems += record_problems(marked, (key, number), model, error)

    def _entries(self, marked: Marked, key: str) -> list[Any]:
        entries = marked.value.get(key, [])
        if isinstance(entries, list):
            return entries
        message = N_("must be a list: a line beginning with '-' for each")
        self.problems.append(marked.problem((key,), message))
        return []

    def problem_at(self, key: Key, message: Words, field: str = "") -> FolderProblem:
        """Return a problem with a record, at the place where it stands in the folder."""
        if key not in self._places:
            return FolderProblem(key.trial or ".", None, str(key), message)
        marked, place = self._places[key]
        return marked.problem((*place, field) if field else place, message)


def from_file_form(model: type[Record], content: Any, zone: ZoneInfo | None) -> Record:
    """Return the record of what stands in a file; raises pydantic.ValidationError."""
    record = model.from_file(content, zone)
    if isinstance(record, Weighing) and content.get("written") == "":
        return record.model_copy(update={"written": ""})
    return record


def listed(known: Mapping[str, Any] | Iterable[str]) -> Words:
    """Return handles in a row, or that there are none."""
    return ", ".join(known) or N_("none recorded yet")
