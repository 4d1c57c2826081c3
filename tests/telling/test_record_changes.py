"""What was changed, in the lines of a file: no dictionary, and of a nested field what differs."""

from typing import Any

import pytest

from fairsmoke.telling.record_changes import changes_of, value_line

STAGES = [
    {"id": "smoke", "surround": "121 °C", "ends": [{"core": "71 °C"}]},
    {"id": "finish", "surround": "121 °C", "ends": [{"core": "93 °C"}]},
]


@pytest.mark.parametrize(
    ("value", "line"),
    [
        (None, ""),
        (True, "yes"),
        (["a", "b"], "a + b"),
        ({"cooker": "barrel", "position": "left"}, "cooker: barrel, position: left"),
        ([{"core": "71 °C"}, {"elapsed": "16 h"}], "core: 71 °C; elapsed: 16 h"),
    ],
)
def test_a_value_is_one_line(value: Any, line: str) -> None:
    assert value_line(value) == line


def test_of_a_protocol_only_what_changed_is_told() -> None:
    hotter = [STAGES[0], {**STAGES[1], "surround": "135 °C"}]
    old, new = {"title": "A", "protocol": {"stages": STAGES}}, {"protocol": {"stages": hotter}}
    assert list(changes_of(old, new)) == [
        ("title", "A", ""),
        ("protocol, stages, finish, surround", "121 °C", "135 °C"),
    ]
    assert list(changes_of(old, old)) == []


def test_a_stage_that_is_new_is_told_whole() -> None:
    ((name, before, after),) = changes_of(STAGES[:1], STAGES, "stages")
    assert (name, before) == ("stages, finish", "")
    assert after == "id: finish, surround: 121 °C, ends: core: 93 °C"
