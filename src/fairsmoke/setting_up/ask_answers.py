"""The answers that set up a trial: out of a YAML file, or out of short texts as a person writes.

A question is answered with one line each, so that a terminal, a command and a form on a page can
ask the same things.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from fairsmoke.messages.errors import JobError, message_of
from fairsmoke.notebook.errors import FolderError, FolderProblem
from fairsmoke.notebook.folder.problems import record_problems
from fairsmoke.notebook.folder.yaml_text import read_yaml
from fairsmoke.planning.asked import Asked, handle_of, protocol_changes
from fairsmoke.setting_up.method import Method
from fairsmoke.trial.protocol import Protocol


@dataclass(frozen=True)
class Answers:
    """The answers as texts; "" and () for what was not asked or not answered.

    ``arms``     "Name: wrap=paper, pit=135 °C"; the first arm is the base, "Name" alone
    ``measures`` "yield: 2 points", "cook time: 30 min", "time to 93 °C: 45 min",
                 "Bark 0-10: 1" (a score), "Shear force in kgf, lower: 0.5" (measured)
    ``pieces``   "shoulder-1: 3.41 kg, 11.5 cm, choice", "left-half of brisket-1", or a number
    ``cookers``  "Barrel: left, right"
    """

    title: str
    question: str
    differs: str
    cut: str
    species: str
    arms: Sequence[str]
    measures: Sequence[str]
    pieces: Sequence[str]
    method: Method = field(default_factory=Method)
    cookers: Sequence[str] = ()
    stand_in: Sequence[str] = ()
    cooks: str = "1"
    tasters: str = "0"
    blind: bool | None = None
    price_piece: str = ""
    price_cook: str = ""
    currency: str = ""
    leave_out: Sequence[str] = ()
    sure: str = ""
    handle: str = ""


def asked_of_file(path: Path) -> Asked:
    """Read the answers of a YAML file. Raises FolderError that names each line that is wrong."""
    problems: list[FolderProblem] = []
    marked = read_yaml(path.read_bytes(), str(path), problems)
    if marked is None or problems:
        raise FolderError(problems)
    try:
        return Asked.from_file(marked.value)
    except ValidationError as error:
        raise FolderError(list(record_problems(marked, (), Asked, error))) from error


def asked_of_answers(given: Answers) -> Asked:
    """Read answers given as texts. Raises JobError that names the answer and the mend."""
    _check_said(given)
    protocol, arms = _arms(given)
    content: dict[str, Any] = {
        "title": given.title,
        "question": given.question,
        "differs": given.differs,
        "protocol": {"stages": protocol},
        "arms": arms,
        "measures": [measure_of(text) for text in given.measures],
        "cookers": [_cooker(text) for text in given.cookers],
        "stand_in": list(given.stand_in),
        "leave_out": list(given.leave_out),
        "at_hand": {
            "cut": given.cut,
            "species": given.species,
            "pieces": pieces_of(given.pieces),
            "cooks": given.cooks,
            "tasters": given.tasters,
            "blind": given.blind,
            "price_piece": given.price_piece or None,
            "price_cook": given.price_cook or None,
            "currency": given.currency,
        },
    }
    if given.handle:
        content["id"] = given.handle
    if given.sure:
        content["verdict"] = {"sure": _share(given.sure)}
    try:
        return Asked.from_file(content)
    except ValidationError as error:
        raise JobError(message_of(error)) from error


def _check_said(given: Answers) -> None:
    for answer, what in (
        (given.title, "a title (--title)"),
        (given.cut, "which cut it is (--cut 'pork shoulder')"),
        (given.measures, "what is measured (--measure 'yield: 2 points')"),
        (given.pieces, "which pieces there are, or how many (--piece)"),
    ):
        if not answer:
            raise JobError(f"say {what}")
    numbers = {"price of a piece": given.price_piece, "price of a cook": given.price_cook}
    for name, text in numbers.items():
        try:
            float(text or 0)
        except ValueError as error:
            raise JobError(
                f"the {name}, {text!r}: write a plain number, and the currency by itself"
            ) from error


def _share(text: str) -> str:
    number = text.strip().removesuffix("%").strip()
    try:
        return str(float(number) / 100) if text.strip().endswith("%") else str(float(number))
    except ValueError as error:
        raise JobError(f"how sure to be, {text!r}: write it as '95 %' or 0.95") from error


def _arms(given: Answers) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return the stages of the shared protocol, and the arms with what they change."""
    named = [_named(text, "an arm") for text in given.arms]
    if len(named) < 2:
        raise JobError("a comparison needs two arms or more; say each as 'Name: wrap=paper'")
    methods = [given.method.changed(said) if said else given.method for _, said in named]
    if any(method.wrap for method in methods):
        # With the same stages in every arm, what differs is the wrap and nothing else.
        methods = [method if method.wrap else method.changed("wrap=bare") for method in methods]
    for method in methods:
        method.check()
    stages = [method.stages() for method in methods]
    try:
        shared, *others = (Protocol.from_file({"stages": one}) for one in stages)
    except ValidationError as error:
        raise JobError(message_of(error)) from error
    changes = [[], *(protocol_changes(shared, other) for other in others)]
    arms = [
        {"id": handle_of(name), "name": name, "changes": [change.to_file() for change in changed]}
        for (name, _), changed in zip(named, changes, strict=True)
    ]
    return stages[0], arms


def _named(text: str, what: str) -> tuple[str, str]:
    name, _, said = text.partition(":")
    if not name.strip():
        raise JobError(f"{what} {text!r} has no name before the colon")
    return name.strip(), said.strip()


_SCORE = re.compile(r"^(?P<name>.*?)\s+(?P<low>-?[\d.]+)\s*(?:-|–|to)\s*(?P<high>[\d.]+)$")
_TO_CORE = re.compile(r"^time to\s+(?P<core>.+)$", re.IGNORECASE)
_IN_UNIT = re.compile(r"^(?P<name>.+?)\s+in\s+(?P<unit>\S+)$")
_WAYS = ("higher", "lower", "neither")


def measure_of(text: str) -> dict[str, Any]:
    """Read a measure: "yield: 2 points", "Bark 0-10: 1", "Shear force in kgf, lower: 0.5".

    Returns it in the form of a file. Raises JobError that shows how one is written.
    """
    said, colon, worthwhile = text.rpartition(":")
    if not colon or not worthwhile.strip():
        raise JobError(
            f"the measure {text!r}: write what it is and the difference that would matter, "
            "'yield: 2 points', 'cook time: 30 min', 'Bark 0-10: 1', 'Shear force in kgf: 0.5'"
        )
    said, _, way = said.partition(",")
    name, way = said.strip(), way.strip().casefold()
    if way and way not in _WAYS:
        raise JobError(f"the measure {text!r}: better is one of {', '.join(_WAYS)}, not '{way}'")
    content: dict[str, Any]
    if to_core := _TO_CORE.match(name):
        content = {"kind": "time to core", "core": to_core["core"], "better": "lower"}
    elif name.casefold() == "cook time":
        content = {"kind": "cook time", "better": "lower"}
    elif name.casefold().startswith("yield"):
        content = {"kind": "yield", "better": "higher"}
    elif score := _SCORE.match(name):
        low, high = score["low"], score["high"]
        content = {"kind": "score", "better": "higher", "scale_low": low, "scale_high": high}
        name = score["name"]
    elif measured := _IN_UNIT.match(name):
        content = {"kind": "measured", "better": "neither", "unit": measured["unit"]}
        name = measured["name"]
    else:
        raise JobError(
            f"the measure {text!r}: say the ends of its scale ('Bark 0-10: 1') or its unit "
            "('Shear force in kgf: 0.5')"
        )
    content |= {"better": way} if way else {}
    worth = worthwhile.strip()
    return {"id": handle_of(name), "name": _capital(name), "worthwhile": worth, **content}


def _capital(name: str) -> str:
    return f"{name[:1].upper()}{name[1:]}"


def pieces_of(given: Sequence[str]) -> list[dict[str, Any]]:
    """Read pieces, one a text, or only how many: in the form of a file. Raises JobError."""
    if len(given) == 1 and given[0].strip().isdigit():
        return [{"id": f"piece-{number}"} for number in range(1, int(given[0]) + 1)]
    return [_piece(text) for text in given]


_HALF = re.compile(r"^(?P<name>.+?)\s+of\s+(?P<whole>.+)$", re.IGNORECASE)


def _piece(text: str) -> dict[str, Any]:
    """Read "shoulder-1: 3.41 kg, 11.5 cm, choice": mass, thickness and the rest its grade."""
    name, said = _named(text, "a piece")
    if not said and "," in name:
        first, _, rest = (part.strip() for part in name.partition(","))
        raise JobError(
            f"piece {text.strip()!r}: a colon stands behind the name; write '{first}: {rest}'"
        )
    content: dict[str, Any] = {}
    if half := _HALF.match(name):
        name, content["half_of"] = half["name"], handle_of(half["whole"])
        name = f"{name} of {half['whole']}"
    content |= {"id": handle_of(name), "name": name}
    for part in (one.strip() for one in said.split(",")):
        key, equals, value = part.partition("=")
        if equals:
            content[key.strip()] = value.strip()
        elif re.search(r"\d\s*(kg|g|lb|oz)\b", part, re.IGNORECASE):
            content["mass"] = part
        elif re.search(r"\d\s*(mm|cm|m|in|\")\s*$", part, re.IGNORECASE):
            content["thick"] = part
        elif re.fullmatch(r"[\d.,\s]+", part) and part:
            raise JobError(
                f"piece '{name}': {part!r} has no unit; write '{part} kg' or '{part} cm'"
            )
        elif part:
            content["grade"] = part
    return content


def _cooker(text: str) -> dict[str, Any]:
    name, said = _named(text, "a cooker")
    places = [one.strip() for one in said.split(",") if one.strip()] or ["middle"]
    positions = [{"id": handle_of(place), "name": place} for place in places]
    return {"id": handle_of(name), "name": name, "positions": positions}
