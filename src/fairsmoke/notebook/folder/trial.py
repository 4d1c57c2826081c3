"""Reading one trial's part of a folder."""

from collections.abc import Iterator
from functools import partial
from typing import Any, cast
from zoneinfo import ZoneInfo

from fairsmoke.messages.message import N_
from fairsmoke.notebook.errors import NotebookError
from fairsmoke.notebook.folder import layout
from fairsmoke.notebook.folder.content import TrialContent
from fairsmoke.notebook.folder.files import FolderFiles, Prepare
from fairsmoke.notebook.folder.history import read_history
from fairsmoke.notebook.folder.photos import read_photos
from fairsmoke.notebook.folder.readings_csv import read_readings
from fairsmoke.notebook.folder.yaml_text import Marked
from fairsmoke.notebook.kinds import KINDS, Key, Kind
from fairsmoke.notebook.mapper import record_of_body
from fairsmoke.notebook.readings import Series
from fairsmoke.notebook.rows import Revision
from fairsmoke.trial.base import Record
from fairsmoke.trial.clock import ClockError, time_zone
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.question import Trial

_LONGEST_HANDLE = 60


class TrialReader:
    """Reads one trial's folder; ``kitchen_zone`` is for times that belong to no cook."""

    def __init__(self, files: FolderFiles, folder: str, kitchen_zone: ZoneInfo | None) -> None:
        self._files = files
        self._folder = folder
        self._kitchen_zone = kitchen_zone
        self._cook_files = self._load_cook_files()
        self._pieces_file = files.load(f"{folder}/{layout.PIECES_FILE}")
        self._taken = self._written_handles()
        self._unwritten: dict[Kind, set[str]] = {}
        self._records: dict[Kind, list[Record]] = {}
        self._zones: dict[str, ZoneInfo] = {}

    def read(self) -> TrialContent | None:
        """Return the trial, or None when something of it is wrong."""
        before = len(self._files.problems)
        self._check_names()
        history = self._history()
        trial, struck = self._trial(history)
        self._read_pieces()
        self._read_cooks()
        self._read_others()
        series = tuple(self._series())
        photos = read_photos(self._files, self._folder, self._kitchen_zone)
        if trial is None or len(self._files.problems) > before:
            return None
        numbered = {kind: frozenset(handles) for kind, handles in self._unwritten.items()}
        return TrialContent(
            trial, self._in_order(history), series, history, struck, numbered, photos
        )

    def _check_names(self) -> None:
        names = (
            layout.TRIAL_FILE,
            layout.PIECES_FILE,
            layout.SOURCES_FILE,
            layout.PLAN_FILE,
            layout.REGISTRATION_FILE,
            layout.PHOTOS_FILE,
            layout.HISTORY_FILE,
        )
        self._files.unknown_files(self._folder, names)

    def _load_cook_files(self) -> dict[str, Marked]:
        folder = self._files.root / self._folder / layout.COOKS
        found: dict[str, Marked] = {}
        for path in sorted(folder.iterdir()) if folder.is_dir() else ():
            name = f"{self._folder}/{layout.COOKS}/{path.name}"
            if path.suffix == ".yaml":
                marked = self._files.load(name)
                found |= {path.stem: marked} if marked is not None else {}
            elif path.suffix in (".yml", ".csv"):
                self._files.add(name, N_("a cook's file must be called <cook>.yaml"))
        return found

    def _written_handles(self) -> dict[str, set[str]]:
        taken: dict[str, set[str]] = {name: set() for name in layout.NUMBERED}
        for marked in (*self._cook_files.values(), self._pieces_file):
            for key, kind in layout.COOK_KEYS.items():
                entries = marked.value.get(key, []) if marked is not None else []
                for entry in entries if isinstance(entries, list) else ():
                    if isinstance(entry, dict) and isinstance(entry.get("id"), str):
                        taken[kind.name].add(entry["id"])
        return taken

    def _history(self) -> tuple[Revision, ...]:
        name = f"{self._folder}/{layout.HISTORY_FILE}"
        content = self._files.content(name)
        if content is None:
            return ()
        return read_history(content, name, self._folder, self._files.problems)

    def _trial(self, history: tuple[Revision, ...]) -> tuple[Trial | None, bool]:
        kind, name = KINDS["trial"], f"{self._folder}/{layout.TRIAL_FILE}"
        if not (self._files.root / name).exists():
            last = next((one for one in reversed(history) if one.key.kind == "trial"), None)
            if last is None or not last.struck:
                self._files.add(name, N_("is missing: it says what the question is"))
                return None, False
            try:
                return cast(Trial, record_of_body(kind, last.key, last.body)), True
            except NotebookError as error:
                self._files.add(f"{self._folder}/{layout.HISTORY_FILE}", str(error))
                return None, False
        marked = self._files.load(name)
        if marked is None:
            return None, False
        content = {"id": self._folder, **marked.value}
        if content["id"] != self._folder:
            message = N_(
                "must be '%(folder)s', the name of the folder, or be left out", folder=self._folder
            )
            self._files.problems.append(marked.problem(("id",), message))
        found = self._files.record(marked, (), kind, content, self._kitchen_zone)
        return cast("Trial | None", found), False

    def _read_pieces(self) -> None:
        marked = self._pieces_file
        if marked is None:
            return
        self._files.unknown_keys(marked, layout.PIECES_KEYS)
        for key, kind in layout.PIECES_KEYS.items():
            prepare = self._numbered(kind, "")
            self._read_list(marked, key, kind, self._kitchen_zone, prepare)

    def _read_cooks(self) -> None:
        zones = {
            cook_id: self._read_cook_itself(cook_id, marked)
            for cook_id, marked in self._cook_files.items()
        }
        cooks = [one for one in self._records.get(KINDS["cook"], ()) if isinstance(one, Cook)]
        cooks.sort(key=lambda cook: (cook.starts, cook.id))
        self._records[KINDS["cook"]] = list(cooks)
        for cook_id in dict.fromkeys([*(cook.id for cook in cooks), *zones]):
            if cook_id in self._cook_files:
                self._read_cook_lists(cook_id, self._cook_files[cook_id], zones[cook_id])

    def _read_cook_lists(self, cook_id: str, marked: Marked, zone: ZoneInfo | None) -> None:
        self._files.unknown_keys(marked, ("cook", *layout.COOK_KEYS))
        for key, kind in layout.COOK_KEYS.items():
            self._read_list(marked, key, kind, zone, self._placed(marked, key, kind, cook_id))

    def _read_cook_itself(self, cook_id: str, marked: Marked) -> ZoneInfo | None:
        kind, content = KINDS["cook"], marked.value.get("cook")
        if not isinstance(content, dict):
            message = N_("'cook' is missing: name, starts, cookers")
            self._files.problems.append(marked.problem((), message))
            return self._kitchen_zone
        content = {"id": cook_id, **content}
        if content["id"] != cook_id:
            message = N_(
                "must be '%(cook_id)s', the name of the file, or be left out", cook_id=cook_id
            )
            self._files.problems.append(marked.problem(("cook", "id"), message))
        if self._kitchen_zone is not None:
            content.setdefault("time_zone", self._kitchen_zone.key)
        try:
            zone: ZoneInfo | None = time_zone(str(content.get("time_zone", "")))
        except ClockError:
            # The cook's own check says so; its other times need not be complained about as well.
            zone = self._kitchen_zone or ZoneInfo("UTC")
        found = self._files.record(marked, ("cook",), kind, content, zone, self._folder)
        if found is not None and zone is not None:
            self._records.setdefault(kind, []).append(found)
            self._zones[cook_id] = zone
        return zone

    def _read_others(self) -> None:
        sources = self._files.load(f"{self._folder}/{layout.SOURCES_FILE}")
        if sources is not None:
            self._files.unknown_keys(sources, ("sources",))
            self._read_list(sources, "sources", KINDS["source"], self._kitchen_zone, None)
        plan = self._files.load(f"{self._folder}/{layout.PLAN_FILE}")
        if plan is not None:
            self._read_one(plan, KINDS["plan"], plan.value)
        registration = self._files.load(f"{self._folder}/{layout.REGISTRATION_FILE}")
        if registration is not None:
            content = self._with_registered_plan(registration)
            self._read_one(registration, KINDS["registration"], content)

    def _read_one(self, marked: Marked, kind: Kind, content: Any) -> None:
        found = self._files.record(marked, (), kind, content, self._kitchen_zone, self._folder)
        if found is not None:
            self._records.setdefault(kind, []).append(found)

    def _with_registered_plan(self, marked: Marked) -> Any:
        """Return a registration with the plan that lies beside it, to the byte."""
        name = f"{self._folder}/{layout.REGISTERED_FILE}"
        content = self._files.content(name)
        if content is None or not isinstance(marked.value, dict):
            return marked.value
        try:
            text = content.decode()
        except UnicodeDecodeError:
            self._files.add(
                name, N_("is not UTF-8 text, so it is not the plan that was registered")
            )
            return marked.value
        if marked.value.get("plan", text) != text:
            message = N_(
                "is not the plan in %(registered_file)s; take this one out",
                registered_file=layout.REGISTERED_FILE,
            )
            self._files.problems.append(marked.problem(("plan",), message))
        return {**marked.value, "plan": text}

    def _read_list(
        self, marked: Marked, key: str, kind: Kind, zone: ZoneInfo | None, prepare: Prepare | None
    ) -> None:
        found = self._files.records(marked, key, kind, zone, self._folder, prepare)
        self._records.setdefault(kind, []).extend(found)

    def _placed(self, marked: Marked, key: str, kind: Kind, cook_id: str) -> Prepare:
        numbered = self._numbered(kind, cook_id)
        has_cook = "cook" in kind.model.model_fields

        def prepare(number: int, content: dict[str, Any]) -> dict[str, Any]:
            if has_cook:
                content = {"cook": cook_id, **content}
                if content["cook"] != cook_id:
                    message = N_(
                        "must be '%(cook_id)s', the cook of this file, or be left out",
                        cook_id=cook_id,
                    )
                    self._files.problems.append(marked.problem((key, number, "cook"), message))
            return numbered(number, content)

        return prepare

    def _numbered(self, kind: Kind, cook_id: str) -> Prepare:
        """Give records without a handle the next free one, numbered from the cook."""

        def prepare(_: int, content: dict[str, Any]) -> dict[str, Any]:
            if "id" in content or kind.name not in layout.NUMBERED:
                return content
            taken = self._taken[kind.name]
            number = 1
            while (handle := _handle(cook_id, kind.name, number)) in taken:
                number += 1
            taken.add(handle)
            self._unwritten.setdefault(kind, set()).add(handle)
            return {"id": handle, **content}

        return prepare

    def _series(self) -> Iterator[Series]:
        folder = self._files.root / self._folder / layout.READINGS
        for path in sorted(folder.rglob("*.csv")) if folder.is_dir() else ():
            name = path.relative_to(self._files.root).as_posix()
            parts = path.relative_to(folder).parts
            if len(parts) != 2:
                self._files.add(name, N_("must lie in readings/<cook>/<probe>.csv"))
                continue
            hidden = path.stem.endswith(layout.HIDDEN)
            place = (parts[0], path.stem.removesuffix(layout.HIDDEN))
            zone = self._zones.get(place[0], self._kitchen_zone)
            content = self._files.content(name)
            if content is not None:
                problems = self._files.problems
                yield from read_readings(content, name, place, zone, problems, hidden=hidden)

    def _in_order(self, history: tuple[Revision, ...]) -> dict[Kind, tuple[Record, ...]]:
        """Return the records in the order of recording, as far as the history tells it."""
        first: dict[Key, int] = {}
        for number, revision in enumerate(history):
            first.setdefault(revision.key, number)

        def place_of(kind: Kind, record: Record) -> int:
            return first.get(kind.key(self._folder, kind.handle_of(record)), len(first))

        return {
            kind: tuple(sorted(records, key=partial(place_of, kind)))
            for kind, records in self._records.items()
        }


def _handle(cook_id: str, kind: str, number: int) -> str:
    ending = f"{kind}-{number}"
    room = _LONGEST_HANDLE - len(ending) - 1
    return f"{cook_id[:room].rstrip('-')}-{ending}" if cook_id else ending
