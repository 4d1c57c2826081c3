"""The finding of a trial as it is now, kept for everybody who looks at it.

A document of messages is kept, so that one entry serves every reader; charts and the report, which
are drawn for one language and one system of units, are made when they are asked for and kept too.
"""

import json
import tempfile
import zipfile
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from fairsmoke.answers.earlier import earlier_trials, past_digests, state_with_past
from fairsmoke.answers.store import (
    ResultKey,
    Store,
    StoredResult,
    digest_of,
    program_digest,
    subject_of,
)
from fairsmoke.answers.tasks import Context, Progress
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.photos import ENDINGS, photos_digest
from fairsmoke.notebook.readings import load_all_readings
from fairsmoke.notebook.trial_record import load_trial_record
from fairsmoke.notebook.trial_state import TrialState, trial_digest, trial_state
from fairsmoke.quantity import Units
from fairsmoke.telling.document import from_json, to_json
from fairsmoke.telling.reader import Reader

_ROOMS = ("judging", "telling", "weighing", "design", "trial", "quantity")
"""What a finding is worked out and told by."""


@dataclass(frozen=True)
class KeptFinding:
    """The entry of a finding, and the state of the trial that it is of."""

    entry: StoredResult
    state: TrialState


def kept_finding(book: Notebook, trial: str, store: Store) -> KeptFinding:
    """Return the finding of a trial as it is now, working it out unless it is kept.

    Raises NotebookError when there is no such trial, ComparisonError when it cannot be judged.
    """
    before = earlier_trials(book, trial)
    digests = past_digests(book, before)
    with book.reading() as connection:
        state = trial_state(connection, trial, before)
        digest = trial_digest(connection, trial)
        entry = _entry(store, "finding", book, trial, digest, digests)
        if entry.get("document") is not None and entry.get("numbers") is not None:
            return KeptFinding(entry, state)
        record = load_trial_record(connection, trial, load_all_readings(connection, trial))
    # Only here: what is kept needs none of it.
    from fairsmoke.answers.past import past_of
    from fairsmoke.judging.judge import judge
    from fairsmoke.telling.as_json import finding_json
    from fairsmoke.telling.finding import finding_document

    finding = judge(record, made=datetime.now(UTC), past=past_of(book, trial, store))
    entry.put("numbers", finding_json(finding))
    entry.put("document", to_json(finding_document(finding, cooks=False)))
    return KeptFinding(entry, state)


def _entry(
    store: Store,
    question: str,
    book: Notebook,
    trial: str,
    digest: str,
    past: list[list[str]] | None = None,
) -> StoredResult:
    content = {"trial": trial, "record": digest, "past": past or []}
    key = ResultKey.of(question, content, program_digest(*_ROOMS))
    return store.ask(key, subject=subject_of(book.path, trial))


def document_of(entry: StoredResult) -> Any:
    """Return the kept document of a finding, None when there is none."""
    path = entry.file("document.json")
    return None if path is None else _document(path)


@lru_cache(maxsize=32)
def _document(path: Path) -> Any:
    # The name of a kept file holds the digest of what is in it.
    return from_json(json.loads(path.read_text(encoding="utf-8")))


def picture_of(entry: StoredResult, name: str, reader: Reader) -> Path | None:
    """Return a chart of a finding as SVG, drawn for this reader; None where there is no such."""
    document = document_of(entry)
    data = document.pictures.get(name) if document is not None else None
    if data is None:
        return None
    file = f"{name}-{digest_of(reader.language, *map(str, asdict(reader.units).values()))}.svg"
    kept = entry.file(file)
    if kept is not None:
        return kept
    from fairsmoke.telling.chart_style import roomy, svg_of
    from fairsmoke.telling.charts import chart_of
    from fairsmoke.telling.document import said

    with entry.new_file(file) as path:
        svg = svg_of(chart_of(said(data, reader)), reader.language)
        path.write_text(roomy(svg), encoding="utf-8")
    return entry.file(file)


def kept_report(book: Notebook, trial: str, store: Store, reader: Reader, paper: str) -> Path:
    """Return the report of a trial as PDF for a reader, kept beside its finding.

    It carries the moment of the finding that is kept, so that page and print are one finding.
    """
    found = kept_finding(book, trial, store)
    name = f"report-{digest_of(paper, str(reader_fields(reader)))}.pdf"
    kept = found.entry.file(name)
    if kept is not None:
        return kept
    from fairsmoke.answers.past import past_of
    from fairsmoke.judging.judge import judge
    from fairsmoke.telling.report import write_report

    made = datetime.fromisoformat(document_of(found.entry).brief["made"])
    past = past_of(book, trial, store)
    finding = judge(book.load_trial(trial), made=made, past=past)
    if state_with_past(book, trial) != found.state:
        # Something was recorded meanwhile: the report is then of the newer state.
        return kept_report(book, trial, store, reader, paper)
    with found.entry.new_file(name) as path:
        size: Any = "us-letter" if paper == "us-letter" else "a4"
        write_report(finding, path, reader, paper=size)
    return _whole(found.entry, name)


def kept_data(book: Notebook, trial: str, store: Store) -> Path:
    """Return a trial's whole record as a zip of open files, kept by its digest."""
    from fairsmoke.notebook.folder.transfer import export_trial

    with book.reading() as connection:
        # A photo changes no finding, so it is no part of the trial's own digest.
        digest = digest_of(trial_digest(connection, trial), photos_digest(connection, trial))
    entry = _entry(store, "record", book, trial, digest)
    kept = entry.file("record.zip")
    if kept is not None:
        return kept
    with tempfile.TemporaryDirectory() as work, entry.new_file("record.zip") as path:
        root = export_trial(book, trial, Path(work) / trial)
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
            for file in sorted(root.rglob("*")):
                # Deflating a picture takes long and saves nothing.
                is_picture = file.suffix in ENDINGS.values()
                how = zipfile.ZIP_STORED if is_picture else zipfile.ZIP_DEFLATED
                packed.write(file, Path(trial) / file.relative_to(root), how)
    return _whole(entry, "record.zip")


def _whole(entry: StoredResult, name: str) -> Path:
    path = entry.file(name)
    if path is None:
        raise OSError(f"{name} was written and is not there")
    return path


def reader_fields(reader: Reader) -> dict[str, Any]:
    """Return a reader as plain JSON data, for a job."""
    return {**asdict(reader), "zone": str(reader.zone)}


def finding_task(content: dict[str, Any], at: Context, _: Progress) -> dict[str, Any]:
    """Judge a trial as a job."""
    found = kept_finding(at.book(), content["trial"], at.store)
    return {"digest": found.entry.key.digest, "state": asdict(found.state)}


def report_task(content: dict[str, Any], at: Context, _: Progress) -> dict[str, Any]:
    """Write the report of a trial as a job."""
    fields = content["reader"]
    units, zone = Units(**fields["units"]), ZoneInfo(fields["zone"])
    reader = Reader(**{**fields, "units": units, "zone": zone})
    path = kept_report(at.book(), content["trial"], at.store, reader, content["paper"])
    return {"file": str(path)}


def data_task(content: dict[str, Any], at: Context, _: Progress) -> dict[str, Any]:
    """Pack the record of a trial as a job."""
    return {"file": str(kept_data(at.book(), content["trial"], at.store))}
