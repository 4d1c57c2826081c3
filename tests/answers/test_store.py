"""The store of results: whole or not at all, each owner's own kept, listed by what it is about."""

import json
import subprocess
import sys
import threading
from pathlib import Path

import numpy as np
import pytest

import fairsmoke
from fairsmoke.answers import store as storing
from fairsmoke.answers.store import KEPT, ResultKey, Store, StoredResult, program_digest, subject_of


def asked(store: Store, number: int, subject: str = "", question: str = "when") -> StoredResult:
    request = {"serve": number}
    return store.ask(ResultKey.of(question, request, "program"), request, subject=subject)


def damage(path: Path, how: str) -> None:
    content = path.read_bytes()
    match how:
        case "cut":
            path.write_bytes(content[: len(content) // 2])
        case "empty":
            path.write_bytes(b"")
        case "one bit":
            path.write_bytes(bytes([content[0] ^ 1]) + content[1:])
        case "odd":
            path.write_text('{"form": "another"}')
        case "folder":
            path.unlink()
            path.mkdir()


def test_what_is_put_comes_back(tmp_path: Path) -> None:
    entry = asked(Store(tmp_path), 1)
    assert entry.get("result") is None
    assert entry.file("chart.svg") is None
    assert entry.arrays("draws") == {}
    entry.put("result", {"word": "Rauch – °C", "numbers": [0.1, None]})
    entry.put_arrays("draws", {"core_c": np.arange(3.0)})
    with entry.new_file("chart.svg") as path:
        path.write_text("<svg/>")
    again = Store(tmp_path).find("when", entry.key.digest)
    assert again is not None
    assert again.get("result") == {"word": "Rauch – °C", "numbers": [0.1, None]}
    assert again.request == {"serve": 1}
    assert list(again.arrays("draws")["core_c"]) == [0.0, 1.0, 2.0]
    kept = again.file("chart.svg")
    assert kept is not None
    assert kept.read_text() == "<svg/>"
    assert kept.suffix == ".svg"


@pytest.mark.parametrize("how", ["cut", "empty", "one bit", "odd", "folder"])
def test_damaged_is_as_good_as_none_and_can_be_put_again(tmp_path: Path, how: str) -> None:
    entry = asked(Store(tmp_path), 1)
    entry.put("result", {"form": 1})
    entry.put_arrays("draws", {"core_c": np.arange(3.0)})
    for name in ("result.json", "draws.npz"):
        path = entry.file(name)
        assert path is not None
        damage(path, how)
        assert entry.file(name) is None
    assert entry.get("result") is None
    assert entry.arrays("draws") == {}
    if how != "folder":
        entry.put("result", {"form": 1})
        assert entry.get("result") == {"form": 1}


def test_what_was_not_written_to_its_end_is_not_there(tmp_path: Path) -> None:
    entry = asked(Store(tmp_path), 1)
    entry.put("result", "before")

    def half() -> None:
        with entry.new_file("result.json") as path:
            path.write_text('"half')
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        half()
    assert entry.get("result") == "before"
    assert not [one for one in entry.folder.iterdir() if one.name.startswith(".")]


def test_a_later_one_takes_the_place_of_the_earlier(tmp_path: Path) -> None:
    entry = asked(Store(tmp_path), 1)
    for number in range(3):
        entry.put("result", number)
    assert entry.get("result") == 2
    assert len(list(entry.folder.glob("result.*"))) == 1


@pytest.mark.parametrize(
    "odd", ["", "..", "a/b", "../../etc", "A" * 24, "0" * 23, "0" * 25, "é" * 24]
)
def test_an_odd_name_is_none(tmp_path: Path, odd: str) -> None:
    store = Store(tmp_path)
    entry = asked(store, 1)
    assert store.find("when", odd) is None
    name = f"{odd}/x"
    assert entry.get(name) is None
    assert entry.file(name) is None
    with pytest.raises(ValueError, match="name of a kept file"), entry.new_file(name):
        pass


def test_keys_follow_the_request_and_the_program() -> None:
    base = ResultKey.of("when", {"serve": 1, "hold": 2}, "program")
    assert ResultKey.of("when", {"hold": 2, "serve": 1}, "program") == base
    others = [
        ResultKey.of("when", {"serve": 1, "hold": 3}, "program"),
        ResultKey.of("when", {"serve": 1, "hold": 2}, "another"),
        ResultKey.of("what-if", {"serve": 1, "hold": 2}, "program"),
    ]
    assert len({base.digest, *(one.digest for one in others)}) == 4


def test_nobody_pushes_out_what_another_keeps(tmp_path: Path) -> None:
    cook, helper = Store(tmp_path, "cook"), Store(tmp_path, "helper")
    own, shared = asked(cook, 0, "trial"), asked(cook, 1, "trial")
    for number in range(1, 3 * KEPT):
        asked(helper, number, "trial").put("result", number)
    assert cook.find("when", own.key.digest) is not None
    # The helper asked for this one first of all, and lost it; the cook keeps it.
    assert cook.find("when", shared.key.digest) is not None
    assert len(cook.asked("when", "trial")) == KEPT + 2
    # What nobody keeps is gone from the disk as well.
    assert len(list((tmp_path / "when").iterdir())) == KEPT + 2


def test_least_recently_used_goes_first(tmp_path: Path) -> None:
    store = Store(tmp_path, "cook")
    entries = [asked(store, number, "trial") for number in range(KEPT)]
    assert store.find("when", entries[0].key.digest) is not None
    asked(store, 1, "trial")
    asked(store, KEPT, "trial")
    kept = {one.key for one in store.asked("when", "trial")}
    assert entries[2].key not in kept
    assert {entries[0].key, entries[1].key} <= kept


def test_other_subjects_and_questions_are_counted_by_themselves(tmp_path: Path) -> None:
    store = Store(tmp_path)
    first = asked(store, 0, "trial")
    for number in range(1, KEPT + 5):
        asked(store, number, "another")
        asked(store, number, "trial", "what-if")
    assert [one.key for one in store.asked("when", "trial")] == [first.key]


def test_listed_newest_first_whoever_asked(tmp_path: Path) -> None:
    cook, helper = Store(tmp_path, "cook"), Store(tmp_path, "helper")
    for number in (1, 2, 3):
        asked(cook, number, "trial")
    asked(helper, 1, "trial")
    requests = [one.request["serve"] for one in cook.asked("when", "trial")]
    assert requests == [1, 3, 2]
    assert [one.request["serve"] for one in cook.asked("when", "trial", most=2)] == [1, 3]
    assert cook.asked("when", "nothing") == ()


def test_trials_of_two_notebooks_are_two_subjects(tmp_path: Path) -> None:
    assert subject_of(tmp_path / "a.db", "wrap") != subject_of(tmp_path / "b.db", "wrap")
    assert subject_of(tmp_path / "a.db", "wrap") == subject_of(
        tmp_path / "x" / ".." / "a.db", "wrap"
    )


def test_what_a_killed_process_left_goes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store = Store(tmp_path)
    entry = asked(store, 1)
    left = entry.folder / ".result.0123456789abcdef.json"
    left.write_text("{")
    asked(store, 2)
    assert left.exists()
    monkeypatch.setattr(storing, "_LEFT_OVER_S", -1.0)
    asked(store, 3)
    assert not left.exists()


def test_several_threads_write_and_read_whole_documents(tmp_path: Path) -> None:
    entry = asked(Store(tmp_path), 1)
    entry.put("result", ["a"] * 1000)
    odd: list[object] = []

    def write(letter: str) -> None:
        for _ in range(30):
            entry.put("result", [letter] * 1000)

    writers = [threading.Thread(target=write, args=(letter,)) for letter in "bc"]
    for one in writers:
        one.start()
    while any(one.is_alive() for one in writers):
        found = entry.get("result")
        # While one version takes the place of another there may be none; never a mixture.
        if found is not None and (len(found) != 1000 or len(set(found)) != 1):
            odd.append(found)
    assert not odd
    assert entry.get("result") is not None


def test_program_digest_follows_subpackages_and_tables(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("planning/day/plan.py", "planning/table.csv", "physics/air.py"):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("x = 1\n")
    monkeypatch.setattr(fairsmoke, "__file__", str(tmp_path / "__init__.py"))

    def digests() -> tuple[str, str, str]:
        program_digest.cache_clear()
        return program_digest("planning"), program_digest("physics"), program_digest()

    before = digests()
    for name in ("planning/day/plan.py", "planning/table.csv"):
        (tmp_path / name).write_text("x = 2\n")
        after = digests()
        assert after[0] != before[0]
        assert after[1] == before[1]
        assert after[2] != before[2]
        before = after
    with pytest.raises(ValueError, match="no room 'cellar'"):
        program_digest("cellar")
    program_digest.cache_clear()


def test_keys_are_the_same_in_another_process() -> None:
    code = (
        "from fairsmoke.answers.store import ResultKey, program_digest;"
        "print(ResultKey.of('when', {'b': 'é', 'a': 1.5}, program_digest('physics')).digest)"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    own = ResultKey.of("when", json.loads('{"a": 1.5, "b": "é"}'), program_digest("physics"))
    assert said.stdout.strip() == own.digest
