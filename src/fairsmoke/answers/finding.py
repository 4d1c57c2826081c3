"""Judge a trial and keep what was found in a folder, named by the digest of what it rests on.

The same record, units and program give the same name, so that nothing is worked out twice.
"""

import hashlib
import json
import shutil
import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

import fairsmoke
from fairsmoke.answers.tasks import Context
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.photos import ENDINGS, photos_digest
from fairsmoke.notebook.readings import load_all_readings
from fairsmoke.notebook.trial_record import load_trial_record
from fairsmoke.notebook.trial_state import TrialState, trial_digest, trial_state
from fairsmoke.quantity import Units

KEPT_FOLDERS = 80
"""Folders of findings that are kept; the oldest beyond them go."""

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Kept:
    """Where a finding is kept, and the state of the trial that it is of."""

    folder: Path
    state: TrialState


def tell_trial(
    book: Notebook, trial: str, units: Units, folder: Path, progress: Progress | None = None
) -> Kept:
    """Return the finding of a trial as it is now, working it out unless it is kept in ``folder``.

    Raises NotebookError when there is no such trial, ComparisonError when it cannot be judged.
    """
    with book.reading() as connection:
        state = trial_state(connection, trial)
        place = folder / _name(trial_digest(connection, trial), trial, units)
        if (place / "answer.json").exists():
            place.touch()
            return Kept(place, state)
        record = load_trial_record(connection, trial, load_all_readings(connection, trial))
    # Only here: what is kept needs none of it.
    from fairsmoke.judging.judge import judge
    from fairsmoke.telling.as_json import finding_json
    from fairsmoke.telling.told import told_of

    finding = judge(record, made=datetime.now(UTC), units=units)
    told = told_of(finding, units, progress)
    contents: dict[str, Any] = {
        "answer": told.answer,
        "front": told.front,
        "ledger": told.ledger,
        "finding": finding_json(finding),
        **{f"section-{name}": section for name, section in told.sections.items()},
        **{f"piece-{name}": piece for name, piece in told.pieces.items()},
    }
    texts = {f"{name}.json": json.dumps(content) for name, content in contents.items()}
    texts |= {f"picture-{name}.svg": picture for name, picture in told.pictures.items()}
    _put(place, texts)
    _tidy(folder)
    return Kept(place, state)


def write_kept_report(book: Notebook, trial: str, units: Units, folder: Path, paper: str) -> Path:
    """Return the report of a trial as PDF, beside its finding in ``folder``.

    It carries the moment of the finding that is kept, so that page and print are one finding.
    """
    kept = tell_trial(book, trial, units, folder)
    target = kept.folder / f"report-{paper}.pdf"
    if target.exists():
        return target
    from fairsmoke.judging.judge import judge
    from fairsmoke.telling.report import write_report

    answer = json.loads((kept.folder / "answer.json").read_text(encoding="utf-8"))
    made = datetime.fromisoformat(answer["made"])
    finding = judge(book.load_trial(trial), made=made, units=units)
    with book.reading() as connection:
        if trial_state(connection, trial) != kept.state:
            # Something was recorded meanwhile: the report is then of the newer state.
            return write_kept_report(book, trial, units, folder, paper)
    write_report(finding, target, units=units, paper="us-letter" if paper == "us-letter" else "a4")
    return target


def write_kept_data(book: Notebook, trial: str, folder: Path) -> Path:
    """Return a trial's whole record as a zip of open files, kept in ``folder`` by its digest."""
    from fairsmoke.notebook.folder.transfer import export_trial

    with book.reading() as connection:
        # A photo changes no finding, so it is no part of the trial's own digest.
        parts = trial_digest(connection, trial) + photos_digest(connection, trial)
    digest = hashlib.sha256(parts.encode()).hexdigest()
    target = folder / f"data-{digest[:24]}.zip"
    if target.exists():
        return target
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=folder) as work:
        root = export_trial(book, trial, Path(work) / trial)
        beside = Path(work) / "data.zip"
        with zipfile.ZipFile(beside, "w", zipfile.ZIP_DEFLATED) as packed:
            for file in sorted(root.rglob("*")):
                # Deflating a picture takes long and saves nothing.
                is_picture = file.suffix in ENDINGS.values()
                how = zipfile.ZIP_STORED if is_picture else zipfile.ZIP_DEFLATED
                packed.write(file, Path(trial) / file.relative_to(root), how)
        beside.replace(target)
    for old in sorted(folder.glob("data-*.zip"), key=lambda one: one.stat().st_mtime)[:-10]:
        old.unlink(missing_ok=True)
    return target


def _name(digest: str, trial: str, units: Units) -> str:
    parts = [digest, trial, json.dumps(asdict(units)), _program()]
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()[:24]


@cache
def _program() -> str:
    """Return the digest of all that a finding is worked out and told by."""
    own = Path(fairsmoke.__file__).parent
    digest = hashlib.sha256()
    for room in ("judging", "telling", "weighing", "trial", "quantity"):
        for file in sorted((own / room).glob("*.py")):
            digest.update(file.name.encode() + b"\0" + file.read_bytes())
    return digest.hexdigest()


def _put(place: Path, texts: dict[str, str]) -> None:
    """Write a folder whole or not at all."""
    place.parent.mkdir(parents=True, exist_ok=True)
    beside = Path(tempfile.mkdtemp(dir=place.parent, prefix="part-"))
    for name, text in texts.items():
        (beside / name).write_text(text, encoding="utf-8")
    shutil.rmtree(place, ignore_errors=True)
    beside.rename(place)


def _tidy(folder: Path) -> None:
    found = [one for one in folder.iterdir() if one.is_dir() and not one.name.startswith("part-")]
    for old in sorted(found, key=lambda one: one.stat().st_mtime)[:-KEPT_FOLDERS]:
        shutil.rmtree(old, ignore_errors=True)


def finding_task(content: dict[str, Any], at: Context, progress: Progress) -> dict[str, Any]:
    """Judge a trial as a job."""
    units, folder = Units(**content["units"]), at.folder / "told"
    kept = tell_trial(at.book(), content["trial"], units, folder, progress)
    return {"folder": str(kept.folder), "state": asdict(kept.state)}


def report_task(content: dict[str, Any], at: Context, _: Progress) -> dict[str, Any]:
    """Write the report of a trial as a job."""
    units, folder = Units(**content["units"]), at.folder / "told"
    path = write_kept_report(at.book(), content["trial"], units, folder, content["paper"])
    return {"file": str(path)}


def data_task(content: dict[str, Any], at: Context, _: Progress) -> dict[str, Any]:
    """Pack the record of a trial as a job."""
    return {"file": str(write_kept_data(at.book(), content["trial"], at.folder / "told"))}
