"""The answers that set up a trial: out of a YAML file, or out of short texts as a person writes.

A question is answered with one line each, so that a terminal, a command and a form on a page can
ask the same things.
"""

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from fairsmoke.messages.errors import JobError, message_of
from fairsmoke.messages.message import N_, InputField, Listed, Message
from fairsmoke.notebook.errors import FolderError, FolderProblem
from fairsmoke.notebook.folder.problems import record_problems
from fairsmoke.notebook.folder.yaml_text import read_yaml
from fairsmoke.planning.asked import TrialAnswers, handle_of, protocol_changes
from fairsmoke.setting_up.method import NEEDS, Method, idle
from fairsmoke.trial.protocol import Protocol
from fairsmoke.trial.question import Better


@dataclass(frozen=True)
class WrittenAnswers:
    """The answers as texts; "" and () for what was not asked or not answered.

    ``arm``      "Name: wrap=paper, pit=135 °C"; the first arm is the base, "Name" alone
    ``measure``  "yield: 2 points", "cook time: 30 min", "time to 93 °C: 45 min",
                 "Bark 0-10: 1" (a score), "Shear force in kgf, lower: 0.5" (measured)
    ``piece``    "shoulder-1: 3.41 kg, 11.5 cm, choice", "left-half of brisket-1", or a number
    ``cooker``   "Barrel: left, right"
    """

    title: str = ""
    question: str = ""
    differs: str = ""
    cut: str = ""
    species: str = "other"
    arm: Sequence[str] = ()
    measure: Sequence[str] = ()
    piece: Sequence[str] = ()
    method: Method = field(default_factory=Method)
    cooker: Sequence[str] = ()
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


def asked_of_file(path: Path) -> TrialAnswers:
    """Read the answers of a YAML file. Raises FolderError that names each line that is wrong."""
    problems: list[FolderProblem] = []
    marked = read_yaml(path.read_bytes(), str(path), problems)
    if marked is None or problems:
        raise FolderError(problems)
    try:
        return TrialAnswers.from_file(marked.value)
    except ValidationError as error:
        raise FolderError(list(record_problems(marked, (), TrialAnswers, error))) from error


def asked_of_answers(given: WrittenAnswers) -> TrialAnswers:
    """Read answers given as texts. Raises JobError that names the answer and the mend."""
    _check_said(given)
    protocol, arms = _arms(given)
    content: dict[str, Any] = {
        "title": given.title,
        "question": given.question,
        "differs": given.differs,
        "protocol": {"stages": protocol},
        "arms": arms,
        "measures": [measure_of(text) for text in given.measure],
        "cookers": [cooker_of(text) for text in given.cooker],
        "stand_in": list(given.stand_in),
        "leave_out": list(given.leave_out),
        "at_hand": {
            "cut": given.cut,
            "species": given.species,
            "pieces": pieces_of(given.piece),
            "cooks": given.cooks,
            "tasters": given.tasters,
            "blind": given.blind,
            "price_piece": price_of(given.price_piece, "price_piece"),
            "price_cook": price_of(given.price_cook, "price_cook"),
            "currency": given.currency,
        },
    }
    if given.handle:
        content["id"] = given.handle
    if given.sure:
        content["verdict"] = {"sure": _share(given.sure)}
    try:
        return TrialAnswers.from_file(content)
    except ValidationError as error:
        raise JobError(message_of(error)) from error


def check_used(given: WrittenAnswers, said: Collection[str]) -> None:
    """Raise JobError for an answer among those ``said`` that nothing would come of."""
    methods = _methods(given, [named(text, "arm") for text in given.arm])
    unused = {
        option: needs
        for option, needs in NEEDS.items()
        if not any(getattr(method, needs) for method in methods)
    }
    if given.tasters == "0":
        unused["blind"] = "tasters"
    if not given.price_piece and not given.price_cook:
        unused["currency"] = "price_piece"
    for option, needs in unused.items():
        if option in said:
            raise idle(option, needs)


def _check_said(given: WrittenAnswers) -> None:
    def say(what: Message, name: str) -> JobError:
        return JobError(
            N_("say %(what)s (%(field)s)", what=what, field=InputField(name)), field=name
        )

    if not given.title:
        raise say(N_("a title"), "title")
    if not given.cut:
        raise say(N_("which cut it is, as “pork shoulder”"), "cut")
    if not given.measure:
        raise say(N_("what is measured, as “yield: 2 points”"), "measure")
    if not given.piece:
        raise say(N_("which pieces there are, or how many"), "piece")


def price_of(text: str, name: str) -> str | None:
    """Read a price, "$32" and "12,50 €" too. Raises JobError for what is no sum of money."""
    if not text.strip():
        return None
    bare = _SUM.match(text.strip())
    if bare is not None:
        return bare[1].replace(",", ".")
    message = N_(
        "%(field)s, “%(said)s”: write a plain number such as 32 or 12.50, and the currency by "
        "itself",
        field=InputField(name),
        said=text,
    )
    raise JobError(message, field=name)


_SUM = re.compile(r"^[^\d.,+-]{0,4}(\d+(?:[.,]\d{1,2})?)[^\d.,]{0,4}$")
"""A sum with its currency's sign; a comma before three figures may be thousands and is none."""


def _share(text: str) -> str:
    number = text.strip().removesuffix("%").strip()
    try:
        return str(float(number) / 100) if text.strip().endswith("%") else str(float(number))
    except ValueError as error:
        message = N_("how sure to be, “%(said)s”: write it as “95 %%” or 0.95", said=text)
        raise JobError(message, field="sure") from error


def _methods(given: WrittenAnswers, arms: Sequence[tuple[str, str]]) -> list[Method]:
    return [given.method.changed(said, "arm") if said else given.method for _, said in arms]


def _arms(given: WrittenAnswers) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return the stages of the shared protocol, and the arms with what they change."""
    arms = [named(text, "arm") for text in given.arm]
    if len(arms) < 2:
        message = N_("a comparison needs two arms or more; say each as “Name: wrap=paper”")
        raise JobError(message, field="arm")
    methods = _methods(given, arms)
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
    return stages[0], [
        {"id": handle_of(name), "name": name, "changes": [change.to_file() for change in changed]}
        for (name, _), changed in zip(arms, changes, strict=True)
    ]


_UNNAMED = {
    "arm": N_("the arm “%(said)s” has no name before the colon"),
    "piece": N_("the piece “%(said)s” has no name before the colon"),
    "cooker": N_("the cooker “%(said)s” has no name before the colon"),
}


def named(text: str, what: str) -> tuple[str, str]:
    """Return the name before a colon, and what is said of it; ``what`` is the field's name."""
    name, _, said = text.partition(":")
    if not name.strip():
        raise JobError(Message(_UNNAMED[what].text, {"said": text}), field=what)
    return name.strip(), said.strip()


_SCORE = re.compile(r"^(?:(?P<name>.*?)\s+)?(?P<low>-?[\d.]+)\s*(?:-|–|to)\s*(?P<high>[\d.]+)$")
_TO_CORE = re.compile(r"^time to\s+(?P<core>.+)$", re.IGNORECASE)
_IN_UNIT = re.compile(r"^(?P<name>.+?)\s+in\s+(?P<unit>\S+)$")
_WAYS = tuple(str(one) for one in Better)


def measure_of(text: str) -> dict[str, Any]:
    """Read a measure: "yield: 2 points", "Bark 0-10: 1", "Shear force in kgf, lower: 0.5".

    Returns it in the form of a file. Raises JobError that shows how one is written.
    """
    said, colon, worthwhile = text.rpartition(":")
    if not colon or not worthwhile.strip():
        raise _not_a_measure(
            text,
            N_(
                "write what it is and the difference that would matter, “yield: 2 points”, “cook "
                "time: 30 min”, “Bark 0-10: 1”, “Shear force in kgf: 0.5”"
            ),
        )
    said, _, way = said.partition(",")
    name, way = said.strip(), way.strip().casefold()
    if way and way not in _WAYS:
        raise _not_a_measure(
            text, N_("better is one of %(ways)s, not “%(way)s”", ways=Listed(_WAYS), way=way)
        )
    name, content = _kind_of(name, text)
    content |= {"better": way} if way else {}
    worth = worthwhile.strip()
    return {"id": handle_of(name), "name": _capital(name), "worthwhile": worth, **content}


def _kind_of(name: str, text: str) -> tuple[str, dict[str, Any]]:
    """Return a measure's own name, and its kind with what that kind needs."""
    if to_core := _TO_CORE.match(name):
        return name, {"kind": "time to core", "core": to_core["core"], "better": "lower"}
    if name.casefold() == "cook time":
        return name, {"kind": "cook time", "better": "lower"}
    if name.casefold().startswith("yield"):
        return name, {"kind": "yield", "better": "higher"}
    if score := _SCORE.match(name):
        if not score["name"]:
            raise _not_a_measure(
                text, N_("name what is scored before the ends of its scale, “Bark 0-10: 1”")
            )
        ends = {"scale_low": score["low"], "scale_high": score["high"]}
        return score["name"], {"kind": "score", "better": "higher", **ends}
    if measured := _IN_UNIT.match(name):
        kind = {"kind": "measured", "better": "neither", "unit": measured["unit"]}
        return measured["name"], kind
    if not re.search(r"[^\W\d_]", name):
        raise _not_a_measure(
            text, N_("name what is scored before the ends of its scale, “Bark 0-10: 1”")
        )
    raise _not_a_measure(
        text,
        N_(
            "say the ends of its scale (“%(name)s 0-10: 1”) or its unit (“%(name)s in kgf: 0.5”)",
            name=name,
        ),
    )


def _not_a_measure(text: str, mend: Message) -> JobError:
    message = N_("the measure “%(said)s”: %(mend)s", said=text.strip(), mend=mend)
    return JobError(message, field="measure")


def _capital(name: str) -> str:
    return f"{name[:1].upper()}{name[1:]}"


def pieces_of(given: Sequence[str]) -> list[dict[str, Any]]:
    """Read pieces, one a text, or only how many: in the form of a file. Raises JobError."""
    if len(given) == 1 and given[0].strip().isdigit():
        return [{"id": f"piece-{number}"} for number in range(1, int(given[0]) + 1)]
    return [piece_of(text) for text in given]


_HALF = re.compile(r"^(?P<name>.+?)\s+of\s+(?P<whole>.+)$", re.IGNORECASE)
_MASS = re.compile(r"\d\s*(kg|g|lb|oz)\b", re.IGNORECASE)
_LENGTH = re.compile(r"\d\s*(mm|cm|m|in|\")\s*$", re.IGNORECASE)


def piece_of(text: str) -> dict[str, Any]:
    """Read "shoulder-1: 3.41 kg, 11.5 cm, choice": mass, thickness and the rest its grade."""
    name, said = named(text, "piece")
    if not said and "," in name:
        first, _, rest = (part.strip() for part in name.partition(","))
        message = N_(
            "piece “%(said)s”: a colon stands behind the name; write “%(first)s: %(rest)s”",
            said=text.strip(),
            first=first,
            rest=rest,
        )
        raise JobError(message, field="piece")
    content: dict[str, Any] = {}
    if half := _HALF.match(name):
        name, content["half_of"] = half["name"], handle_of(half["whole"])
        name = f"{name} of {half['whole']}"
    content |= {"id": handle_of(name), "name": name}
    for part in (one.strip() for one in said.split(",")):
        key, equals, value = part.partition("=")
        if equals:
            content[key.strip()] = value.strip()
        elif _MASS.search(part):
            content["mass"] = part
        elif _LENGTH.search(part):
            content["thick"] = part
        elif re.fullmatch(r"[\d.\s]+", part) and part:
            message = N_(
                "piece “%(name)s”: “%(part)s” has no unit; write %(meant)s",
                name=name,
                part=part,
                meant=Listed([f"“{one}”" for one in _likely_meant(part)], "or"),
            )
            raise JobError(message, field="piece")
        elif part:
            content["grade"] = part
    return content


def _likely_meant(part: str) -> list[str]:
    """Return a bare number with the units in which a piece could weigh or be thick so much."""
    try:
        number = float(part.replace(" ", ""))
    except ValueError:
        return [f"{part} kg", f"{part} cm"]
    units = [("kg", 0.3, 15.0), ("cm", 1.0, 30.0), ("oz", 16.0, 99.9), ("g", 100.0, 15_000.0)]
    fitting = [unit for unit, least, most in units if least <= number <= most]
    return [f"{part} {unit}" for unit in fitting or ("kg", "cm")]


def cooker_of(text: str) -> dict[str, Any]:
    """Read a cooker with its positions, "Barrel: left, right", in the form of a file."""
    name, said = named(text, "cooker")
    places = [one.strip() for one in said.split(",") if one.strip()] or ["middle"]
    positions = [{"id": handle_of(place), "name": place} for place in places]
    return {"id": handle_of(name), "name": name, "positions": positions}
