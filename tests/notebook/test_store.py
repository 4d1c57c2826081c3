"""Recording, correcting, striking out, and what a notebook refuses."""

import shutil
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fairsmoke.notebook import CorrectionError, Notebook, NotebookError
from fairsmoke.notebook.folder.transfer import notebook_of_folder
from fairsmoke.trial.cook import Cook, Event, Piece, Spot
from fairsmoke.trial.kitchen import Kitchen, KnownLayout
from fairsmoke.trial.probe import Probe
from fairsmoke.trial.question import Trial
from fairsmoke.trial.tasting import Taster
from fairsmoke.trial.weighing import Scale, Weighing

BY_HAND = Path(__file__).parent / "data" / "by-hand"
TRIAL = "paper-or-bare"
COOK = "first-fire"


@pytest.fixture(scope="module")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("once") / "hall.db"
    notebook_of_folder(path, BY_HAND, by="Ada").close()
    return path


@pytest.fixture
def notebook(made_once: Path, tmp_path: Path) -> Iterator[Notebook]:
    path = Path(shutil.copy(made_once, tmp_path))
    with Notebook.open(path) as made:
        yield made
        assert made.check() == ()


def spritz(handle: str = "spritz-1", note: str = "") -> Event:
    at = datetime(2026, 5, 3, 3, 0, 0, 123456, tzinfo=UTC)
    return Event(id=handle, cook=COOK, at=at, kind="spritz", pieces=("shoulder-1",), note=note)


def test_what_is_saved_is_loaded(notebook: Notebook) -> None:
    assert notebook.save(spritz(), trial=TRIAL) == 1
    assert notebook.get(Event, "spritz-1", trial=TRIAL) == spritz()
    assert notebook.list(Event, trial=TRIAL)[-1] == spritz()
    assert notebook.list(Event, trial=TRIAL, cook=COOK) == notebook.list(Event, trial=TRIAL)
    assert notebook.list(Event, trial=TRIAL, cook="other") == ()
    assert [trial.id for trial in notebook.trials()] == [TRIAL]
    assert notebook.kitchen.name == "Kitchen of the village hall"


def test_listing_by_trial_says_the_same_as_listing_each(notebook: Notebook) -> None:
    again = notebook.get(Trial, TRIAL).model_copy(update={"id": "again"})
    cook = notebook.get(Cook, COOK, trial=TRIAL)
    notebook.save(again)
    notebook.save(cook, trial="again")
    notebook.save(spritz("late"), trial=TRIAL)
    notebook.save(spritz("later").model_copy(update={"pieces": ()}), trial="again")
    notebook.strike("event", "late", trial=TRIAL, why="test")
    for kind in (Cook, Event, Piece, Weighing):
        each = {trial: notebook.list(kind, trial=trial) for trial in (TRIAL, "again")}
        assert notebook.list_by_trial(kind) == {key: held for key, held in each.items() if held}
    with pytest.raises(NotebookError, match="belongs to no trial"):
        notebook.list_by_trial(Scale)


def test_saving_the_same_again_adds_nothing(notebook: Notebook) -> None:
    notebook.save(spritz(), trial=TRIAL)
    before = notebook.digest()
    assert notebook.save(spritz(), trial=TRIAL) == 0
    assert notebook.save_trial(notebook.load_trial(TRIAL)) == 0
    assert notebook.digest() == before


def test_a_change_needs_its_reason_and_keeps_the_old_value(notebook: Notebook) -> None:
    notebook.save(spritz(), trial=TRIAL, by="Ada")
    with pytest.raises(CorrectionError, match=r"event 'spritz-1' .*why"):
        notebook.save(spritz(note="cider"), trial=TRIAL)
    assert notebook.save(spritz(note="cider"), trial=TRIAL, by="Ben", why="forgot") == 1
    first, second = notebook.history(Event, "spritz-1", trial=TRIAL)
    assert (first.number, first.by, first.why) == (1, "Ada", "")
    assert (second.number, second.by, second.why) == (2, "Ben", "forgot")
    assert second.changes_from(first) == {"note": ("", "cider")}
    assert first.recorded_at <= second.recorded_at <= datetime.now(UTC)


def test_fields_are_corrected_as_people_write_them(notebook: Notebook) -> None:
    why = "the paper says otherwise"
    event = notebook.correct(
        "event",
        "first-fire-event-3",
        {"set": "275 °F", "at": "2026-05-03 06:10"},
        why=why,
        trial=TRIAL,
    )
    assert isinstance(event, Event)
    assert event.set_c == pytest.approx(135)
    # The cook's clocks were on British Summer Time.
    assert event.at == datetime(2026, 5, 3, 5, 10, tzinfo=UTC)
    handle = "first-fire-weighing-2"
    scale = notebook.correct("weighing", handle, {"reading": "3.35 kg"}, why=why, trial=TRIAL)
    assert isinstance(scale, Weighing)
    assert (scale.reading_kg, scale.written) == (3.35, "3.35 kg")
    scale = notebook.correct(Weighing, handle, {"reading_kg": 3.36}, why=why, trial=TRIAL)
    assert isinstance(scale, Weighing)
    assert (scale.reading_kg, scale.written) == (3.36, "")
    piece = notebook.correct(
        Piece,
        "shoulder-1",
        {"spot": {"cooker": "barrel", "position": "right"}},
        why=why,
        trial=TRIAL,
    )
    assert isinstance(piece, Piece)
    assert piece.spot == Spot(cooker="barrel", position="right")
    piece = notebook.correct(Piece, "shoulder-1", {"spot": None}, why=why, trial=TRIAL)
    assert notebook.get(Piece, "shoulder-1", trial=TRIAL) == piece
    assert isinstance(piece, Piece)
    assert piece.spot is None


@pytest.mark.parametrize(
    ("changes", "complaint"),
    [
        ({"nite": "x"}, "did you mean 'note'"),
        ({"id": "other"}, "handle never changes"),
        ({"set": "250"}, "set"),
        ({"at": "06:10"}, "no date"),
        ({"kind": "wrap", "pieces": ()}, "which ones"),
        ({"at": "2026-10-25 01:30"}, "happened twice"),
    ],
)
def test_a_bad_correction_is_refused(
    notebook: Notebook, changes: dict[str, object], complaint: str
) -> None:
    before = notebook.digest()
    with pytest.raises(CorrectionError, match=complaint):
        notebook.correct("event", "first-fire-event-3", changes, why="x", trial=TRIAL)
    with pytest.raises(CorrectionError, match="say why"):
        notebook.correct("event", "first-fire-event-3", {"note": "x"}, why=" ", trial=TRIAL)
    assert notebook.digest() == before


def test_striking_out_keeps_and_can_be_undone(notebook: Notebook) -> None:
    notebook.save(spritz(), trial=TRIAL)
    notebook.strike(Event, "spritz-1", why="that was the other trial", trial=TRIAL)
    assert spritz() not in notebook.list(Event, trial=TRIAL)
    assert spritz() not in notebook.load_trial(TRIAL).events
    with pytest.raises(NotebookError, match="struck out; its history has it"):
        notebook.get(Event, "spritz-1", trial=TRIAL)
    assert [one.struck for one in notebook.history("event", "spritz-1")] == [False, True]
    with pytest.raises(CorrectionError, match="why"):
        notebook.save(spritz(), trial=TRIAL)
    notebook.save(spritz(), trial=TRIAL, why="it was this one after all")
    assert notebook.get(Event, "spritz-1", trial=TRIAL) == spritz()


@pytest.mark.parametrize(
    ("kind", "handle", "user"),
    [
        ("piece", "shoulder-2", "estimate 'first-fire-estimate-1'"),
        ("sample", "sample-1", "ballot 'first-fire-ballot-1'"),
        ("scale", "bench", "weighing"),
        ("cook", COOK, "event 'first-fire-event-4'"),
        ("probe", "pit-1", "readings in cook 'first-fire'"),
        ("cooker", "barrel", "cook 'first-fire'"),
    ],
)
def test_what_is_used_cannot_be_struck_out(
    notebook: Notebook, kind: str, handle: str, user: str
) -> None:
    with pytest.raises(CorrectionError, match=f"{kind} '{handle}' cannot be struck out") as caught:
        notebook.strike(
            kind, handle, why="gone", trial="" if kind in ("scale", "probe", "cooker") else TRIAL
        )
    assert user in str(caught.value)


def test_a_whole_trial_can_be_struck_out(notebook: Notebook) -> None:
    notebook.strike(Trial, TRIAL, why="rained off")
    assert notebook.trials() == ()
    with pytest.raises(NotebookError, match="no trial 'paper-or-bare'"):
        notebook.load_trial(TRIAL)
    with pytest.raises(NotebookError, match="no trial 'paper-or-bare'"):
        notebook.save(spritz(), trial=TRIAL)


@pytest.mark.parametrize(
    ("record", "complaint"),
    [
        (spritz().model_copy(update={"cook": "second-fire"}), "no cook 'second-fire' .*first-fire"),
        (spritz().model_copy(update={"pieces": ("rib",)}), "no piece 'rib' .*shoulder-1"),
        (
            Weighing(id="w", piece="shoulder-1", scale="old", reading_kg=1, sum=("cooked meat",)),
            "no scale 'old' .*bench",
        ),
        (
            Piece(id="p", name="p", cut="c", species="pork", cook=COOK, arm="foil"),
            "no arm 'foil' .*bare, paper",
        ),
        (
            Piece(
                id="p",
                name="p",
                cut="c",
                species="pork",
                spot=Spot(cooker="barrel", position="top"),
            ),
            "no position 'barrel/top'",
        ),
    ],
)
def test_a_record_that_points_at_nothing_is_refused(
    notebook: Notebook, record: Event, complaint: str
) -> None:
    before = notebook.digest()
    with pytest.raises(NotebookError, match=complaint):
        notebook.save(record, trial=TRIAL)
    assert notebook.digest() == before


def test_several_records_are_saved_in_any_order_or_not_at_all(notebook: Notebook) -> None:
    half = Piece(id="half", name="Half", cut="shoulder", species="pork", half_of="whole")
    whole = Piece(id="whole", name="Whole", cut="shoulder", species="pork")
    assert notebook.save([half, whole], trial=TRIAL) == 2
    bad = spritz().model_copy(update={"cook": "nowhere"})
    with pytest.raises(NotebookError, match="nowhere"):
        notebook.save([spritz("spritz-9"), bad], trial=TRIAL)
    with pytest.raises(NotebookError, match="no event 'spritz-9'"):
        notebook.get(Event, "spritz-9", trial=TRIAL)


def test_a_trial_that_does_not_fit_together_is_refused_whole(notebook: Notebook) -> None:
    record = notebook.load_trial(TRIAL)
    bad = replace(record, events=(*record.events, spritz().model_copy(update={"pieces": ("x",)})))
    bad = replace(bad, scales=())
    with pytest.raises(NotebookError) as caught:
        notebook.save_trial(bad)
    assert str(caught.value).splitlines() == [str(one) for one in bad.problems()]
    assert len(bad.problems()) > 1


def test_a_trial_moves_to_another_notebook(notebook: Notebook, tmp_path: Path) -> None:
    record = notebook.load_trial(TRIAL)
    with Notebook.create(tmp_path / "other.db") as other:
        assert other.save_trial(record) > 20
        again = other.load_trial(TRIAL)
        assert replace(again, readings={}) == replace(record, readings={})
        for key, readings in record.readings.items():
            assert again.readings[key].same_as(readings)


def test_only_the_kitchens_things_that_a_trial_uses_are_loaded(notebook: Notebook) -> None:
    notebook.save([Taster(id="other", name="O"), Scale(id="big", name="B", resolution_kg=0.05)])
    record = notebook.load_trial(TRIAL)
    assert [taster.id for taster in record.tasters] == ["taster-1"]
    assert [scale.id for scale in record.scales] == ["bench"]
    assert [probe.id for probe in record.probes] == ["core-1", "pit-1"]


def test_layouts_are_known_to_the_whole_notebook(notebook: Notebook) -> None:
    layout = KnownLayout(id="ab", name="Box", mapping="time,1", confirmed=spritz().at)
    notebook.save(layout)
    assert notebook.list(KnownLayout) == (layout,)


def test_the_past_cannot_be_changed_in_the_file_either(notebook: Notebook) -> None:
    notebook.save(spritz(), trial=TRIAL)
    notebook.settle()
    with closing(sqlite3.connect(notebook.path)) as raw:
        for statement, refusal in (
            ("UPDATE revision SET why = 'x'", "never changed"),
            ("DELETE FROM revision", "never changed"),
            ("UPDATE reading_block SET n = 1", "never changed"),
            ("DELETE FROM reading_block", "never changed"),
            ("UPDATE event SET note = 'x'", "only together with a new revision"),
            ("UPDATE event SET last_revision = 1 + last_revision", "only together"),
            ("DELETE FROM event", "struck out, never deleted"),
            ("INSERT INTO taster VALUES ('t', 'T', '', 1, 1, 0)", "together with its revision"),
        ):
            with pytest.raises(sqlite3.IntegrityError, match=refusal):
                raw.execute(statement)


def test_a_notebook_altered_behind_its_back_is_found_out(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    notebook_of_folder(path, BY_HAND).close()
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("DROP TRIGGER keep_event_update")
        raw.execute("UPDATE event SET note = 'never happened' WHERE id = 'first-fire-event-1'")
        raw.execute("DROP TRIGGER keep_revision_update")
        raw.execute("UPDATE revision SET number = 2 WHERE record_id = 'shoulder-1'")
        raw.execute("DROP TRIGGER keep_reading_block_update")
        raw.execute("UPDATE reading_block SET number = 2 WHERE probe = 'pit-1'")
        raw.commit()
    with Notebook.open(path) as notebook:
        found = "\n".join(map(str, notebook.check()))
    assert "guards against changing the past were taken away" in found
    assert "event 'first-fire-event-1': it is not what its history says last" in found
    assert "piece 'shoulder-1': revision 1 is missing from its history" in found
    assert (
        "probe 'pit-1' in cook 'first-fire' of trial 'paper-or-bare': block 1 is missing" in found
    )


def test_the_database_itself_refuses_what_points_at_nothing(notebook: Notebook) -> None:
    link = "INSERT INTO event_pieces VALUES ('paper-or-bare', 'first-fire-event-1', 9, 'rib')"
    with (
        pytest.raises(NotebookError, match="points at what is not there"),
        notebook.writing() as connection,
    ):
        connection.exec_driver_sql(link)


def test_what_was_acknowledged_was_flushed(notebook: Notebook) -> None:
    # 2 is FULL: https://www.sqlite.org/pragma.html#pragma_synchronous (from memory).
    with notebook.writing() as connection:
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"


def test_what_is_no_notebook_is_refused_and_left_alone(tmp_path: Path) -> None:
    with pytest.raises(NotebookError, match=r"no notebook at .*create one"):
        Notebook.open(tmp_path / "none.db")
    assert not (tmp_path / "none.db").exists()
    with pytest.raises(NotebookError, match="is a folder"):
        Notebook.open(tmp_path)
    other = tmp_path / "other.db"
    with closing(sqlite3.connect(other)) as raw:
        raw.execute("CREATE TABLE mine (x)")
        raw.commit()
    text = tmp_path / "text.db"
    text.write_text("hello")
    for path in (other, text):
        before = path.read_bytes()
        with pytest.raises(NotebookError, match="not a Fairsmoke notebook"):
            Notebook.open(path)
        assert path.read_bytes() == before
        with pytest.raises(NotebookError, match="is there already"):
            Notebook.create(path)
    with pytest.raises(NotebookError, match="cannot be opened"):
        Notebook.create(tmp_path / "nowhere" / "a.db")


def test_a_damaged_file_says_so(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    notebook_of_folder(path, BY_HAND).close()
    content = bytearray(path.read_bytes())
    content[4096:] = bytes(len(content) - 4096)
    path.write_bytes(content)
    with (
        pytest.raises(NotebookError, match="damaged; keep it, and go on from a backup"),
        Notebook.open(path) as notebook,
    ):
        notebook.list(Event, trial=TRIAL)


def test_one_file_is_left_and_can_be_copied(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    with notebook_of_folder(path, BY_HAND) as notebook:
        digest = notebook.digest()
        notebook.settle()
        (tmp_path / "copied.db").write_bytes(path.read_bytes())
        assert notebook.backup(tmp_path / "backup.db") == tmp_path / "backup.db"
        with pytest.raises(NotebookError, match="choose another name"):
            notebook.backup(tmp_path / "backup.db")
    assert sorted(found.name for found in tmp_path.iterdir()) == ["a.db", "backup.db", "copied.db"]
    for name in ("copied.db", "backup.db"):
        with Notebook.open(tmp_path / name) as copy:
            assert copy.digest() == digest
            assert copy.check() == ()


def test_closing_brings_all_into_the_file_though_another_program_has_it_open(
    tmp_path: Path,
) -> None:
    path = tmp_path / "a.db"
    notebook = notebook_of_folder(path, BY_HAND)
    with Notebook.open(path) as other:
        assert len(other.list(Event, trial=TRIAL)) == 4
        notebook.save(spritz(), trial=TRIAL)
        notebook.close()
        (tmp_path / "copy.db").write_bytes(path.read_bytes())
    with Notebook.open(tmp_path / "copy.db") as copy:
        assert len(copy.list(Event, trial=TRIAL)) == 5


def test_a_file_may_have_any_name(tmp_path: Path) -> None:
    path = tmp_path / "100% hall?a=b#c é.db"
    Notebook.create(path, Kitchen(name="Hall")).close()
    with Notebook.open(path) as notebook:
        assert notebook.kitchen.name == "Hall"
    assert [found.name for found in tmp_path.iterdir()] == [path.name]


def test_settling_says_when_someone_is_still_reading(notebook: Notebook) -> None:
    with Notebook.open(notebook.path) as other, other.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM event").scalar() == 4
        notebook.save(spritz(), trial=TRIAL)
        assert connection.exec_driver_sql("SELECT count(*) FROM event").scalar() == 4
        assert not notebook.settle(wait_s=0.1)
    assert notebook.settle()


def test_many_threads_write_and_read_at_once(notebook: Notebook) -> None:
    failed: list[BaseException] = []
    # Another program with its own notebook on the same file.
    other = Notebook.open(notebook.path)

    def work(name: int) -> None:
        try:
            for number in range(10):
                (other if name % 2 else notebook).save(spritz(f"e-{name}-{number}"), trial=TRIAL)
                assert notebook.load_trial(TRIAL).problems() == []
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=work, args=(name,)) for name in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    other.close()
    assert failed == []
    assert len(notebook.list(Event, trial=TRIAL)) == 4 + 60


def test_a_reader_is_not_blocked_by_a_writer_in_another_program(notebook: Notebook) -> None:
    with Notebook.open(notebook.path) as other, other.writing() as connection:
        connection.exec_driver_sql("DELETE FROM event_pieces")
        assert notebook.list(Event, trial=TRIAL)[0].pieces == ("shoulder-1", "shoulder-2")
        connection.rollback()


def test_unknown_kinds_and_missing_trials_are_named(notebook: Notebook) -> None:
    with pytest.raises(NotebookError, match="keeps no 'sauce'; it keeps: kitchen, cooker"):
        notebook.list("sauce")
    with pytest.raises(NotebookError, match="say of which trial the event is"):
        notebook.list(Event)
    with pytest.raises(NotebookError, match="no cook 'first-fir'; did you mean 'first-fire'"):
        notebook.get(Cook, "first-fir", trial=TRIAL)
    with Notebook.create(notebook.path.with_name("bare.db")) as bare:
        with pytest.raises(NotebookError, match="no kitchen"):
            _ = bare.kitchen
        bare.save(Kitchen(name="Hall"))
        assert bare.kitchen.name == "Hall"
        assert bare.save(Probe(id="p", name="P")) == 1
