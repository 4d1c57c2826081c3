"""RFC 4180, "Common Format and MIME Type for CSV Files", October 2005, section 2 (seen).

The examples of its rules 1, 2, 5, 6 and 7.
"""

import pytest

from fairsmoke.intake.text import blocks, fields_of, lines_of


def _records(text: str) -> list[list[str]]:
    (block,) = blocks(lines_of(text), 0, ",", 3, 3)
    assert not block.bad
    order = sorted(range(len(block.lines)), key=lambda row: block.lines[row])
    return [[column[row] for column in block.columns] for row in order]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
        ("aaa,bbb,ccc\r\nzzz,yyy,xxx", [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
        ('"aaa","bbb","ccc"\r\nzzz,yyy,xxx', [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
        (
            '"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx',
            # A line break inside a field is kept as one line feed, whatever it was.
            [["aaa", "b\nbb", "ccc"], ["zzz", "yyy", "xxx"]],
        ),
        ('"aaa","b""bb","ccc"', [["aaa", 'b"bb', "ccc"]]),
    ],
)
def test_examples_of_section_2(text: str, expected: list[list[str]]) -> None:
    assert _records(text) == expected


def test_spaces_are_part_of_a_field() -> None:
    # Rule 4.
    assert fields_of("aaa, bbb ,ccc", ",") == ["aaa", " bbb ", "ccc"]
