"""Each slip through the app, the shell and a folder: asked about, never settled, never lost."""

import re
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from pydantic import TypeAdapter, ValidationError
from tests.slips import hall
from tests.slips.table import OFF, ON, REFUSED, SLIPS, Slip

from fairsmoke.app.entries.accept import AnyEntry, accept
from fairsmoke.app.people.permissions import Role
from fairsmoke.app.people.person import Person, Preferences
from fairsmoke.arriving.doubted import DoubtedError, correct
from fairsmoke.arriving.folder_rows import RowAskedAbout, asking_about
from fairsmoke.cli.commands import run
from fairsmoke.cli.screen import CANNOT, NEEDS_ANSWER
from fairsmoke.judging.waiting import waiting_of
from fairsmoke.messages.errors import InputError
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.folder.content import FolderContent
from fairsmoke.notebook.folder.importing import take_in_folder
from fairsmoke.notebook.folder.transfer import export_notebook, read_folder
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.readings import load_all_readings
from fairsmoke.notebook.transaction import Transaction
from fairsmoke.notebook.trial_record import load_trial_record
from fairsmoke.notebook.trial_state import TrialState, trial_state
from fairsmoke.notebook.writer import Stamp
from fairsmoke.trial.base import Record

IDS = [f"{number}-{one.group}-{one.what}" for number, one in enumerate(SLIPS, 1)]
ID = {one.what: name for one, name in zip(SLIPS, IDS, strict=True)}
EVERY = pytest.mark.parametrize("slip", SLIPS, ids=IDS)
READ = [one for one in SLIPS if one.asks != REFUSED]
WEIGHED_OR_CORRECTED = [one for one in SLIPS if one.kind not in ("event", "reading")]
ADA = Person(1, "Ada", Role.COOK, Preferences())
ENTRY: TypeAdapter[Any] = TypeAdapter(AnyEntry)
COOK_OF = {name: name.partition("-")[0] for name in hall.RAW_KG}


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Notebook]:
    path = tmp_path_factory.mktemp("slips") / "hall.fairsmoke"
    with Notebook.create(path, hall.KITCHEN) as notebook:
        notebook.save_trial(hall.record())
        yield notebook


@pytest.fixture(scope="module")
def folder(book: Notebook, tmp_path_factory: pytest.TempPathFactory) -> FolderContent:
    return read_folder(export_notebook(book, tmp_path_factory.mktemp("slips") / "out"))


def state(book: Notebook) -> TrialState:
    """Return the present state: two that are equal hold the same."""
    with book.reading() as connection:
        return trial_state(connection, hall.TRIAL)


class TakenBackError(Exception):
    """Undoes a transaction once it has been looked at."""


@contextmanager
def taken_back(book: Notebook) -> Iterator[Transaction]:
    """Give a transaction of which nothing stays."""
    with suppress(TakenBackError), book.transaction(by="Ada") as transaction:
        yield transaction
        raise TakenBackError


def entry_of(slip: Slip, **more: object) -> Any:
    typed = {name: value for name, value in slip.typed.items() if value != ""}
    content: dict[str, Any] = {"id": str(uuid4()), "trial": hall.TRIAL, "kind": slip.kind, **typed}
    piece = typed.get("piece", "")
    if slip.kind == "weighing":
        content |= {"scale": "bench", "sum": typed["sum"].split(" + ")}
        content |= {"cook": COOK_OF[piece]} if piece else {}
    else:
        content |= {"cook": "may"}
    if slip.kind == "reading":
        content |= {"probe": "core-may-bare", "at": ON + timedelta(hours=8, minutes=3)}
    return ENTRY.validate_python(content | more)


def typed_in(transaction: Transaction, slip: Slip, *, insist: bool) -> None:
    """Do in a transaction what the app does with a slip."""
    if not slip.kind.startswith("correct"):
        more = {"insist": True} if insist else {}
        entry_of(slip, **more).record(transaction, ADA)
    else:
        kind = slip.kind.split()[1]
        transaction.correct(kind, slip.handle, slip.typed, why="typed again", trial=hall.TRIAL)


def question(book: Notebook, slip: Slip) -> ValueError:
    """Type a slip in the app and return what it answers."""
    if slip.kind.startswith("correct"):
        kind = slip.kind.split()[1]
        with pytest.raises((InputError, ValidationError)) as caught:
            correct(book, kind, slip.handle, slip.typed, why="typed again", trial=hall.TRIAL)
    else:
        with pytest.raises((InputError, ValidationError)) as caught:
            accept(book, entry_of(slip), ADA)
    return caught.value


def test_there_are_sixty_of_them() -> None:
    assert len(SLIPS) >= 60
    assert len({(one.group, one.what) for one in SLIPS}) == len(SLIPS)


@EVERY
def test_the_app_asks_and_offers_what_was_meant(book: Notebook, slip: Slip) -> None:
    before = state(book)
    error = question(book, slip)
    if slip.asks == REFUSED:
        assert not isinstance(error, DoubtedError)
    else:
        assert isinstance(error, DoubtedError), error
        assert slip.asks in str(error)
        likely = [str(one.says) for asked in error.asked for one in asked.likely]
        assert slip.likely in likely or not slip.likely, likely
    assert state(book) == before


@pytest.mark.parametrize("slip", READ, ids=[ID[one.what] for one in READ])
def test_who_insists_loses_nothing_and_gets_no_verdict(book: Notebook, slip: Slip) -> None:
    """Kept as it was typed; and each measure that rests on it waits for it."""
    with taken_back(book) as transaction:
        typed_in(transaction, slip, insist=True)
        connection = transaction.connection
        readings = load_all_readings(connection, hall.TRIAL)
        record = load_trial_record(connection, hall.TRIAL, readings)
        assert record.problems() == []
        waiting = waiting_of(record)
        if slip.typed.get("event") != "note":
            assert any(one.measures for one in waiting), waiting
            assert all(set(one.pieces) <= set(hall.RAW_KG) for one in waiting)


@pytest.mark.parametrize(
    "slip", WEIGHED_OR_CORRECTED, ids=[ID[one.what] for one in WEIGHED_OR_CORRECTED]
)
def test_the_shell_asks_too(book: Notebook, slip: Slip, capsys: pytest.CaptureFixture[str]) -> None:
    before = state(book)
    code = run([*command(slip), "-n", str(book.path)])
    said = " ".join(capsys.readouterr().err.split())
    if slip.asks == REFUSED:
        assert code == CANNOT, said
    else:
        assert code == NEEDS_ANSWER, said
        assert slip.asks in said
        assert "--insist" in said
    assert state(book) == before


def command(slip: Slip) -> list[str]:
    typed = {name: _text(value) for name, value in slip.typed.items()}
    if slip.kind == "weighing":
        piece = ["--piece", typed["piece"]] if typed["piece"] else []
        return ["weigh", typed["reading"], typed["sum"], "--at", typed["at"], *piece]
    changes = [f"{name}={value}" for name, value in typed.items()]
    return ["correct", slip.kind.split()[1], slip.handle, *changes, "--why", "typed again"]


def _text(value: object) -> str:
    return value.isoformat() if isinstance(value, datetime) else str(value)


def in_folder(content: FolderContent, slip: Slip) -> FolderContent:
    """Return a folder with a slip in it: one row more, or one row otherwise."""
    (trial,) = content.trials
    records = dict(trial.records)
    kind = KINDS[slip.kind.removeprefix("correct ")]
    own = list(records[kind])
    if slip.kind.startswith("correct"):
        at = next(n for n, one in enumerate(own) if kind.handle_of(one) == slip.handle)
        own[at] = _row(kind.model, {**own[at].to_file(), "written": None}, slip)
    else:
        content_of_row = (
            {"id": "slip", "scale": "bench"}
            if kind.name == "weighing"
            else {"id": "slip", "cook": "may"}
        )
        own.append(_row(kind.model, content_of_row, slip))
    return replace(content, trials=(replace(trial, records={**records, kind: tuple(own)}),))


def _row(model: type[Record], row: dict[str, Any], slip: Slip) -> Record:
    typed = {name: value for name, value in slip.typed.items() if value != ""}
    if "event" in typed:
        typed["kind"] = typed.pop("event")
    row |= {name: _text(value) if name == "at" else value for name, value in typed.items()}
    if typed.get("piece") and "cook" not in row:
        row["cook"] = COOK_OF[typed["piece"]]
    return model.from_file({name: value for name, value in row.items() if value is not None})


@pytest.mark.parametrize(
    "slip", [one for one in SLIPS if one.kind != "reading" and one.typed.get("event") != "note"]
)
def test_a_folder_names_the_row(book: Notebook, folder: FolderContent, slip: Slip) -> None:
    asked: list[RowAskedAbout] = []

    def ask(rows: Any) -> None:
        asked.extend(rows)
        raise TakenBackError

    before = state(book)
    if slip.asks == REFUSED:
        # What cannot be read is refused with its line by the reader of the folder, as everywhere;
        # what does not fit together by its look at the whole.
        try:
            (record,) = in_folder(folder, slip).trial_records()
        except ValidationError:
            return
        assert record.problems() != []
        return
    changed = in_folder(folder, slip)
    stamp = Stamp(datetime.now(UTC), "Ada", "x")
    with (
        pytest.raises(TakenBackError),
        book.writing() as connection,
        asking_about(ask)(connection, changed),
    ):
        take_in_folder(connection, changed, Path(), stamp)
    assert any(slip.asks in str(one.asked.question) for one in asked), asked
    assert state(book) == before


def test_a_folder_read_in_the_shell_names_file_and_line(
    book: Notebook, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    export_notebook(book, tmp_path / "out")
    file = tmp_path / "out" / hall.TRIAL / "cooks" / "may.yaml"
    text = file.read_text().replace("3.416 kg", "3416 kg")
    text = text.replace("2026-05-02 19:00", "2026-05-02 08:00", 1)
    file.write_text(text)
    line = 1 + text[: text.index("3416 kg")].count("\n")
    new = str(book.backup(tmp_path / "new.fairsmoke"))
    read = ["read", str(tmp_path / "out"), "-n", new, "--why", "typed anew"]
    assert run(read) == NEEDS_ANSWER
    said = " ".join(capsys.readouterr().err.split())
    rows = [int(found) for found in re.findall(r"may.yaml, line ([0-9]+): weighings", said)]
    assert len(rows) == 1
    assert 0 <= line - rows[0] <= 8
    assert "3416" in said
    assert "before its cook began" in said
    with Notebook.open(new) as kept:
        assert kept.digest() == book.digest()
    assert run([*read, "--insist"]) == 0
    with Notebook.open(new) as kept:
        waiting = waiting_of(kept.load_trial(hall.TRIAL))
        assert {one.handle for one in waiting} == {"may-bare-off", "may-bare-on"}
        kept.confirm("weighing", "may-bare-off", why="so it was", by="Ada", trial=hall.TRIAL)
        left = waiting_of(kept.load_trial(hall.TRIAL))
        assert [one.handle for one in left] == ["may-bare-on"]
        # What was confirmed goes into a folder and comes back; corrected, it is doubted again.
        export_notebook(kept, tmp_path / "again")
        (record,) = read_folder(tmp_path / "again").trial_records()
        assert [one.handle for one in waiting_of(record)] == ["may-bare-on"]
        kept.correct("weighing", "may-bare-off", {"reading": "3400 kg"}, why="x", trial=hall.TRIAL)
        assert len(waiting_of(kept.load_trial(hall.TRIAL))) == 2


def test_a_probe_without_a_place_is_said_at_once_and_kept(book: Notebook) -> None:
    content = {
        "id": str(uuid4()),
        "kind": "reading",
        "trial": hall.TRIAL,
        "cook": "may",
        "probe": "core-spare",
        "at": OFF,
        "value": "61",
        "unit": "degC",
    }
    with taken_back(book) as transaction:
        made = ENTRY.validate_python(content).record(transaction, ADA)
        assert not made.placed
        readings = load_all_readings(transaction.connection, hall.TRIAL)
        record = load_trial_record(transaction.connection, hall.TRIAL, readings)
        (told,) = waiting_of(record)
        assert "has no place there" in str(told.words)
        assert told.measures == ()
        assert len(record.readings["may", "core-spare"]) == 1
