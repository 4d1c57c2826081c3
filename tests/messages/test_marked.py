"""Every message that is marked is found, and the catalogue lacks none."""

import ast

import pytest

from fairsmoke.messages.catalogue import LANGUAGES, SOURCE, catalogue
from fairsmoke.messages.extract import PACKAGE, command_helps, used

MARKS = {"N_", "NN_", "T_"}


def test_no_mark_stands_where_it_is_not_found() -> None:
    """The extractor sees no call inside an f-string, and none whose text is put together."""
    lost = []
    for path in sorted(PACKAGE.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        inside = {
            id(node)
            for whole in ast.walk(tree)
            if isinstance(whole, ast.JoinedStr)
            for node in ast.walk(whole)
        }
        for node in ast.walk(tree):
            if not isinstance(node, ast.Call) or getattr(node.func, "id", "") not in MARKS:
                continue
            first = node.args[0]
            plain = isinstance(first, ast.Constant) and isinstance(first.value, str)
            if id(node) in inside or not plain:
                lost.append(f"{path.relative_to(PACKAGE)}, line {node.lineno}")
    assert lost == []


@pytest.mark.parametrize("language", [one for one in LANGUAGES if one != SOURCE])
def test_no_message_is_empty(language: str) -> None:
    there = {message.id: message.string for message in catalogue(language) if message.id}
    for message in used():
        if message.id:
            text = there.get(message.id, "")
            assert all(text if isinstance(text, tuple) else (text,)), message.id


def test_every_command_has_a_help_text() -> None:
    texts = dict.fromkeys(text for _, text in command_helps())
    assert len(texts) >= 29
    assert all(text.endswith((".", ")")) for text in texts)
