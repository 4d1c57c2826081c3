"""Each face is spoken to in its own words: no page speaks a shell's commands or options."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from zoneinfo import ZoneInfo

import fairsmoke
from fairsmoke.messages.message import N_, OnFace
from fairsmoke.quantity import METRIC
from fairsmoke.telling.document import from_json, to_json
from fairsmoke.telling.reader import Reader

SRC = Path(fairsmoke.__file__).parent
SHELL = re.compile(r"\bfairsmoke [a-z-]+\b|(?<![\w-])--[a-z]")


def texts(path: Path) -> Iterator[str]:
    """The messages of a module, but for those that an OnFace has for the shell."""
    tree = ast.parse(path.read_text())
    own = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "OnFace":
            own |= {id(one) for one in ast.walk(node.args[0])}
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("N_", "NN_"):
            yield from (
                one.value
                for one in node.args
                if isinstance(one, ast.Constant)
                and isinstance(one.value, str)
                and id(one) not in own
            )


def test_no_message_below_the_shell_speaks_its_commands() -> None:
    rooms = [one for one in SRC.rglob("*.py") if one.relative_to(SRC).parts[0] != "cli"]
    found = {str(one.relative_to(SRC)): [t for t in texts(one) if SHELL.search(t)] for one in rooms}
    assert len(found) > 300
    assert {name: some for name, some in found.items() if some} == {}


def test_no_page_speaks_its_commands() -> None:
    pages = list((SRC / "app" / "templates").rglob("*.html"))
    assert len(pages) > 50
    # A CSS name or a comment is no word to a person.
    said = {one.name: re.sub(r"\{#.*?#\}|var\(--[\w-]+\)", "", one.read_text()) for one in pages}
    assert [name for name, text in said.items() if SHELL.search(text)] == []


def test_what_is_to_be_done_is_said_as_the_face_has_it() -> None:
    message = N_("wrong: %(mend)s", mend=OnFace("fairsmoke strike it", N_("take it back")))
    kept = from_json(to_json({"problem": message}))["problem"]
    for one in (message, kept):
        for face, words in (("shell", "fairsmoke strike it"), ("page", "take it back")):
            reader = Reader(METRIC, "en", "24", ZoneInfo("UTC"), face)
            assert reader.say(one) == f"wrong: {words}"
