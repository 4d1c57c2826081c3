"""YAML as the folder uses it: every value is text, and every line is known.

Nothing is guessed from how a value looks: ``22:40``, ``no``, ``012`` and ``2026-05-02`` are the
words that stand there, and the record's own fields say what they mean. A key with nothing behind
it counts as not written.
"""

import io
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode
from ruamel.yaml.representer import SafeRepresenter

from fairsmoke.messages.message import N_, Words
from fairsmoke.notebook.errors import FolderProblem

Place = tuple[str | int, ...]
"""Where a value stands inside a file: keys and, for lists, places counted from 0."""

_MISSING = frozenset({"", "~", "null", "Null", "NULL"})
_DEEPEST = 50
_MEND = N_("look at the indentation here and above, and put quotes around a text with ': ' in it")


@dataclass(frozen=True)
class Marked:
    """What a file holds, as plain data with texts for all values, and the line of each."""

    file: str
    value: Any
    lines: Mapping[Place, int]

    def line_of(self, path: Place) -> int | None:
        """Return the line of a value, or of the nearest thing around it."""
        for length in range(len(path), -1, -1):
            if path[:length] in self.lines:
                return self.lines[path[:length]]
        return None

    def problem(self, path: Place, message: Words) -> FolderProblem:
        """Return a problem with the value at a path."""
        return FolderProblem(self.file, self.line_of(path), key_text(path), message)


def key_text(path: Place) -> str:
    """Return a path as a person says it: ``events 3, at`` is the ``at`` of the third event."""
    words: list[str] = []
    for step in path:
        if isinstance(step, int):
            words.append(f"{words.pop() if words else 'entry'} {step + 1}")
        else:
            words.append(step)
    return ", ".join(words)


class _Reader:
    def __init__(self, file: str, problems: list[FolderProblem]) -> None:
        self.file = file
        self.problems = problems
        self.lines: dict[Place, int] = {}
        self._seen: set[int] = set()

    def read(self, node: Node, path: Place) -> Any:
        line = node.start_mark.line + 1
        self.lines.setdefault(path, line)
        if id(node) in self._seen:
            return self._refuse(
                line, path, N_("refers to another place with '*'; write it out here")
            )
        self._seen.add(id(node))
        if len(path) > _DEEPEST:
            return self._refuse(line, path, N_("nested too deep"))
        if isinstance(node, MappingNode):
            return self._mapping(node, path)
        if isinstance(node, SequenceNode):
            return [self.read(item, (*path, place)) for place, item in enumerate(node.value)]
        assert isinstance(node, ScalarNode)
        # A quoted text is itself, even when it is empty or says null.
        return None if node.style is None and node.value in _MISSING else node.value

    def _mapping(self, node: MappingNode, path: Place) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for key_node, value_node in node.value:
            line = key_node.start_mark.line + 1
            if not isinstance(key_node, ScalarNode):
                self._refuse(line, path, N_("a key must be one word"))
                continue
            key = str(key_node.value)
            if key in found:
                self._refuse(line, (*path, key), N_("is written twice; keep one"))
                continue
            self.lines[(*path, key)] = line
            found[key] = self.read(value_node, (*path, key))
        return {key: value for key, value in found.items() if value is not None}

    def _refuse(self, line: int, path: Place, message: Words) -> None:
        self.problems.append(FolderProblem(self.file, line, key_text(path), message))


def read_yaml(content: bytes, file: str, problems: list[FolderProblem]) -> Marked | None:
    """Return what a file holds, or None when it is unreadable; problems join ``problems``."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        problems.append(FolderProblem(file, line, "", N_("not UTF-8 text; save it as UTF-8")))
        return None
    try:
        node = YAML(typ="safe", pure=True).compose(text)
    except MarkedYAMLError as error:
        mark = error.problem_mark
        message = " ".join(str(error.problem or error.context or "unreadable").split())
        problems.append(
            FolderProblem(
                file,
                mark and mark.line + 1,
                "",
                N_("not YAML: %(message)s; %(mend)s", message=message, mend=_MEND),
            )
        )
        return None
    except (YAMLError, RecursionError, ValueError) as error:
        message = " ".join(str(error).split())[:200]
        problems.append(FolderProblem(file, None, "", N_("not YAML: %(message)s", message=message)))
        return None
    if node is None:
        return Marked(file, {}, {(): 1})
    reader = _Reader(file, problems)
    value = reader.read(node, ())
    return Marked(file, {} if value is None else value, reader.lines)


# Plain words that readers of older YAML take for something else than text.
_LOOKS_LIKE_MORE = re.compile(
    r"(?:y|n|yes|no|on|off|true|false)|[-+.]?[0-9][0-9a-fx_.:+-]*", re.IGNORECASE
)


_WORDS = re.compile(r"[^\W_][\w .-]*")


class _Representer(SafeRepresenter):
    """Writes short lists on one line, several lines as a block, and quotes what may mislead."""

    def represent_text(self, text: str) -> ScalarNode:
        style = None
        if "\n" in text and _fits_in_block(text):
            style = "|"
        elif not text.isprintable():
            # Only here is every odd character escaped; elsewhere some would become a line break.
            style = '"'
        elif _LOOKS_LIKE_MORE.fullmatch(text) or not text[:1].isalnum():
            style = "'"
        node: ScalarNode = self.represent_scalar("tag:yaml.org,2002:str", text, style=style)
        return node

    def represent_items(self, items: list[Any]) -> SequenceNode:
        # In brackets only plain words: what else may stand there is read in more than one way.
        short = all(isinstance(item, str) and _WORDS.fullmatch(item) for item in items)
        node: SequenceNode = self.represent_sequence(
            "tag:yaml.org,2002:seq", items, flow_style=short
        )
        return node


_Representer.add_representer(str, _Representer.represent_text)
_Representer.add_representer(list, _Representer.represent_items)


def _fits_in_block(text: str) -> bool:
    lines = text.split("\n")
    return (
        all(line == line.rstrip() and line.isprintable() for line in lines)
        and bool(lines[0])
        and not lines[0].startswith(" ")
    )


def write_yaml(content: Any) -> bytes:
    """Return plain data as YAML 1.2 that ``read_yaml`` reads back the same."""
    yaml = YAML(typ="safe", pure=True)
    yaml.Representer = _Representer
    yaml.default_flow_style = False
    yaml.sort_base_mapping_type_on_output = False  # type: ignore[assignment]
    yaml.allow_unicode = True
    yaml.width = 100
    yaml.indent(mapping=2, sequence=4, offset=2)
    stream = io.StringIO()
    yaml.dump(content, stream)
    return stream.getvalue().encode()
