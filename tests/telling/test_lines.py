"""Words in lines: no longer than a line, indented, long words whole."""

from itertools import pairwise

import pytest

from fairsmoke.telling.lines import WIDTH, wrapped


@pytest.mark.parametrize(("indent", "hang"), [("", ""), ("  ", ""), ("  ", "  "), ("", "    ")])
def test_lines_keep_words_order_and_width(indent: str, hang: str) -> None:
    words = ["low", "and", "slow", "over", "oak", "until", "it", "gives"] * 12
    lines = wrapped(" ".join(words), indent, hang)
    assert len(lines) > 3
    assert " ".join(lines).split() == words
    assert all(len(line) <= WIDTH for line in lines)
    # Greedy: the first word of a line would not have fitted at the end of the one before.
    for line, after in pairwise(lines):
        assert len(line) + 1 + len(after.split()[0]) > WIDTH
    assert lines[0].startswith(indent + words[0])
    for line in lines[1:]:
        assert line.startswith(indent + hang)
        assert not line.startswith(indent + hang + " ")


def test_a_path_stays_whole_and_nothing_is_a_line_too() -> None:
    path = "/kitchen/" + "long/" * 30 + "sheet.pdf"
    assert path in wrapped(f"Written: {path}", "  ", "  ")[-1]
    assert wrapped("", "  ") == ["  "]
