"""Writing a folder: which bytes go into which file, and putting them there with care."""

import hashlib
import os
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from fairsmoke.messages.message import N_, Words
from fairsmoke.notebook.errors import FolderError, FolderProblem
from fairsmoke.notebook.folder import layout
from fairsmoke.notebook.folder.content import Records, TrialContent, kitchen_of
from fairsmoke.notebook.folder.history import write_history
from fairsmoke.notebook.folder.readings_csv import write_readings
from fairsmoke.notebook.folder.yaml_text import write_yaml
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.readings import Series
from fairsmoke.notebook.rows import Revision
from fairsmoke.trial.base import Record
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.cook import Cook, Piece
from fairsmoke.trial.registration import Registration
from fairsmoke.trial.weighing import Weighing

File = tuple[str, bytes]
"""A file's path inside the folder, and what stands in it."""


def kitchen_zone(shared: Records) -> ZoneInfo:
    """Return the time zone of the kitchen; UTC when there is none."""
    kitchen = kitchen_of(shared)
    return time_zone(kitchen.time_zone if kitchen else "UTC")


def root_files(shared: Records, history: tuple[Revision, ...]) -> Iterator[File]:
    """Yield the files of the folder itself."""
    yield layout.README, layout.README_TEXT.encode()
    zone = kitchen_zone(shared)
    content: dict[str, Any] = {}
    for key, kind in layout.KITCHEN_KEYS.items():
        records = [file_form(one, zone) for one in shared.get(kind, ())]
        if records:
            content[key] = records[0] if kind.only_one else records
    yield layout.KITCHEN_FILE, write_yaml(content)
    if history:
        yield layout.HISTORY_FILE, write_history(history)


def trial_files(trial: TrialContent, zone: ZoneInfo) -> Iterator[File]:
    """Yield the files of one trial; ``zone`` for times that belong to no cook."""
    folder = trial.trial.id
    if not trial.struck:
        yield f"{folder}/{layout.TRIAL_FILE}", write_yaml(file_form(trial.trial, zone))
    zones = _cook_zones(trial)
    for name, content in _record_files(trial, zones, zone):
        yield f"{folder}/{name}", write_yaml(content)
    for registration in trial.records.get(KINDS["registration"], ()):
        assert isinstance(registration, Registration)
        # No line end behind it: the digest is that of the file.
        yield f"{folder}/{layout.REGISTERED_FILE}", registration.plan.encode()
    for name, series in _reading_files(trial.series):
        cook = series[0].cook
        yield f"{folder}/{name}", write_readings(series, zones.get(cook, ZoneInfo("UTC")))
    if trial.history:
        yield f"{folder}/{layout.HISTORY_FILE}", write_history(trial.history)


def _cook_zones(trial: TrialContent) -> dict[str, ZoneInfo]:
    cooks = [one for one in trial.records.get(KINDS["cook"], ()) if isinstance(one, Cook)]
    return {cook.id: time_zone(cook.time_zone) for cook in cooks}


def _record_files(
    trial: TrialContent, zones: Mapping[str, ZoneInfo], kitchen: ZoneInfo
) -> Iterator[tuple[str, dict[str, Any]]]:
    apart: dict[str, Any] = {}
    by_cook: dict[str, dict[str, Any]] = {}
    for cook in trial.records.get(KINDS["cook"], ()):
        assert isinstance(cook, Cook)
        by_cook[cook.id] = {"cook": _without(file_form(cook, zones[cook.id]), "id")}
    pieces = [one for one in trial.records.get(KINDS["piece"], ()) if isinstance(one, Piece)]
    if pieces:
        apart["pieces"] = [file_form(piece, kitchen) for piece in pieces]
    cook_of_piece = {piece.id: piece.cook for piece in pieces}
    for key, kind in layout.COOK_KEYS.items():
        for record in trial.records.get(kind, ()):
            where = layout.cook_of(kind, record, cook_of_piece)
            if where is None:
                apart.setdefault(key, []).append(file_form(record, kitchen))
            else:
                written = _without(file_form(record, zones[where]), "cook")
                by_cook[where].setdefault(key, []).append(written)
    if apart:
        yield layout.PIECES_FILE, apart
    for cook_id, content in by_cook.items():
        yield f"{layout.COOKS}/{cook_id}.yaml", content
    yield from _other_files(trial.records, zones, kitchen)


def _other_files(
    records: Records, zones: Mapping[str, ZoneInfo], kitchen: ZoneInfo
) -> Iterator[tuple[str, dict[str, Any]]]:
    sources = [
        file_form(source, zones.get(str(getattr(source, "cook", "")), kitchen))
        for source in records.get(KINDS["source"], ())
    ]
    if sources:
        yield layout.SOURCES_FILE, {"sources": sources}
    for plan in records.get(KINDS["plan"], ()):
        yield layout.PLAN_FILE, file_form(plan, kitchen)
    for registration in records.get(KINDS["registration"], ()):
        yield layout.REGISTRATION_FILE, _without(file_form(registration, kitchen), "plan")


def file_form(record: Record, zone: ZoneInfo) -> dict[str, Any]:
    """Return what stands in a file for a record."""
    content = record.to_file(zone)
    if isinstance(record, Weighing) and not record.written:
        # Without this the reading's text in the file would be taken for what the person wrote.
        content["written"] = ""
    return content


def _without(content: dict[str, Any], key: str) -> dict[str, Any]:
    return {name: value for name, value in content.items() if name != key}


def _reading_files(series: Iterable[Series]) -> Iterator[tuple[str, list[Series]]]:
    files: dict[str, list[Series]] = {}
    for one in series:
        ending = f"{layout.HIDDEN if one.hidden else ''}.csv"
        name = f"{layout.READINGS}/{one.cook}/{one.probe}{ending}"
        files.setdefault(name, []).append(one)
    yield from files.items()


class FolderWriter:
    """Puts files into a folder, and takes away what an earlier export left and this one lacks.

    Raises FolderError when the folder holds something else, or files that were changed by hand
    since the earlier export, unless ``overwrite``.
    """

    def __init__(self, folder: Path, *, overwrite: bool = False) -> None:
        self.folder = folder
        self._earlier = self._checked_earlier(overwrite)
        self._written: dict[str, str] = {}

    def _checked_earlier(self, overwrite: bool) -> dict[str, str]:
        if self.folder.exists() and not self.folder.is_dir():
            raise _refusal(str(self.folder), N_("is a file; name a folder"))
        if not self.folder.exists() or not any(self.folder.iterdir()):
            return {}
        if not is_exported(self.folder):
            raise _refusal(
                str(self.folder),
                N_("is not empty and was not written by an earlier export; name another folder"),
            )
        earlier = _read_checksums(self.folder / layout.CHECKSUMS)
        changed = [name for name in earlier if _is_changed(self.folder / name, earlier[name])]
        if changed and not overwrite:
            raise FolderError(
                [
                    FolderProblem(
                        name,
                        None,
                        "",
                        N_(
                            "was changed since it was exported; import the folder first, or export "
                            "to another one"
                        ),
                    )
                    for name in changed
                ]
            )
        return earlier

    def put(self, files: Iterable[File]) -> None:
        """Write files, each wholly or not at all."""
        for name, content in files:
            target = self.folder / name
            target.parent.mkdir(parents=True, exist_ok=True)
            digest = hashlib.sha256(content).hexdigest()
            if self._earlier.get(name) != digest or not target.exists():
                unfinished = target.with_name(f"{target.name}.{os.getpid()}.new")
                unfinished.write_bytes(content)
                unfinished.replace(target)
            self._written[name] = digest

    def finish(self) -> None:
        """Remove what the earlier export had and this one has not, and list what was written."""
        for name in self._earlier.keys() - self._written.keys():
            gone = self.folder / name
            gone.unlink(missing_ok=True)
            for parent in gone.relative_to(self.folder).parents[:-1]:
                if not any((self.folder / parent).iterdir()):
                    (self.folder / parent).rmdir()
        lines = [f"{digest}  {name}\n" for name, digest in sorted(self._written.items())]
        (self.folder / layout.CHECKSUMS).write_bytes("".join(lines).encode())


def _refusal(file: str, message: Words) -> FolderError:
    return FolderError([FolderProblem(file, None, "", message)])


def is_exported(folder: Path) -> bool:
    """Tell whether a folder was written by an export."""
    try:
        with (folder / layout.README).open(encoding="utf-8") as file:
            return file.readline().strip() == layout.FIRST_LINE
    except (OSError, UnicodeDecodeError):
        return False


def _read_checksums(path: Path) -> dict[str, str]:
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return {}
    pairs = (line.partition("  ") for line in lines)
    # A name that would lead out of the folder is no name of ours.
    return {
        name: digest
        for digest, _, name in pairs
        if name and not Path(name).is_absolute() and ".." not in Path(name).parts
    }


def _is_changed(path: Path, digest: str) -> bool:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest() != digest
    except FileNotFoundError:
        return True
