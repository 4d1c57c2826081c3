"""The state of a trial: changes with all that a finding rests on, and with nothing else."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from fairsmoke.notebook import Notebook
from fairsmoke.notebook.folder.transfer import notebook_of_folder
from fairsmoke.notebook.trial_state import TrialState, trial_digest, trial_state
from fairsmoke.trial.kitchen import Kitchen
from fairsmoke.trial.reading import Readings
from fairsmoke.trial.weighing import Scale

DATA = Path(__file__).parent / "data" / "by-hand"
TRIAL, COOK = "paper-or-bare", "first-fire"


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Notebook]:
    with notebook_of_folder(tmp_path / "book.db", DATA) as made:
        yield made


def seen(book: Notebook) -> tuple[TrialState, str]:
    with book.reading() as connection:
        return trial_state(connection, TRIAL), trial_digest(connection, TRIAL)


def reading(at_ms: int) -> Readings:
    one = np.array([at_ms], dtype=np.int64)
    return Readings(one, np.array([655]), 1, "degC", np.zeros(1, dtype=np.uint8))


def test_each_change_gives_another_state_and_digest(book: Notebook) -> None:
    found = [seen(book)]

    def changed() -> None:
        found.append(seen(book))

    weighing = "first-fire-weighing-1"
    book.correct("weighing", weighing, {"note": "again"}, why="t", trial=TRIAL)
    changed()
    book.strike("weighing", weighing, why="t", trial=TRIAL)
    changed()
    book.bring_back("weighing", weighing, why="t", trial=TRIAL)
    changed()
    book.save(Scale(id="other", name="Other", resolution_kg=0.001))
    changed()
    book.append_readings(TRIAL, COOK, {"core-1": reading(1_777_900_000_000)})
    changed()
    book.add_readings(TRIAL, COOK, {"core-1": reading(1_777_900_001_000)})
    changed()
    states, digests = zip(*found, strict=True)
    assert len(set(states)) == len(found)
    assert len(set(digests)) == len(found)


def test_packing_and_other_trials_change_nothing(book: Notebook) -> None:
    for second in range(5):
        book.append_readings(TRIAL, COOK, {"core-1": reading(1_777_900_000_000 + 1000 * second)})
    before = seen(book)
    assert book.fold(1) == 5
    other = book.trials()[0].model_copy(update={"id": "another"})
    book.save(other)
    # A trial itself is the kitchen's to list, but its revisions are its own.
    assert seen(book)[1] == before[1]
    assert seen(book)[0] == before[0]


def test_a_copy_has_the_same_digest_and_a_new_notebook_another(
    book: Notebook, tmp_path: Path
) -> None:
    book.settle()
    with Notebook.open(shutil.copy(book.path, tmp_path / "copy.db")) as copy:
        assert seen(copy) == seen(book)
    with notebook_of_folder(tmp_path / "anew.db", DATA) as anew:
        # The same folder read in at another time: as many revisions, of other moments.
        assert seen(anew)[0] == seen(book)[0]
        assert seen(anew)[1] != seen(book)[1]


def test_a_trial_that_is_not_there_has_no_state_of_its_own(tmp_path: Path) -> None:
    with Notebook.create(tmp_path / "empty.db", Kitchen(name="K")) as empty:
        state, _ = seen(empty)
    assert (state.own, state.readings) == (0, 0)
