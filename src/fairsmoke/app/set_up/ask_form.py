"""The short questions of a new trial as a form: from fields to the answers as texts."""

import dataclasses
import re

from fairsmoke.app.set_up.at_hand_form import lines_of, pieces_said
from fairsmoke.app.set_up.fields import Fields, rows_of, with_unit
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, InputField
from fairsmoke.quantity import Units
from fairsmoke.setting_up.ask_answers import WrittenAnswers, measure_of, named
from fairsmoke.setting_up.method import Method

ROWS = {"arm": 4, "measure": 3}
"""How many rows the form has; empty ones are left out."""

METHOD = tuple(field.name for field in dataclasses.fields(Method))
_QUANTITIES = frozenset({"pit", "wrap_at", "finish", "until", "hold", "longest", "hold_for", "fat"})


def empty(units: Units) -> dict[str, str]:
    """Return the fields of a form that nobody filled in: a usual way of cooking, two arms."""
    metric = units.temperature == "C"
    return {
        "pit": "121 °C" if metric else "250 °F",
        "wrap_at": "71 °C" if metric else "160 °F",
        "until": "94 °C" if metric else "201 °F",
        "measure-0-kind": "yield",
        "measure-0-worthwhile": "2 points",
        "cooks": "2",
        "tasters": "0",
        "species": "pork",
    }


def answers_of(fields: Fields, units: Units, cookers: tuple[str, ...]) -> WrittenAnswers:
    """Return the answers; ``cookers`` are the handles of the notebook's own that were ticked.

    Raises JobError for a name that would be read as something else.
    """
    said = {name: value.strip() for name, value in fields.items()}
    new = said.get("cooker", "")
    if new and ":" not in new:
        new = f"{new}: {said.get('positions', '')}"
    return WrittenAnswers(
        title=said.get("title", ""),
        question=said.get("question", "") or said.get("title", ""),
        differs=said.get("differs", "") or said.get("title", ""),
        cut=said.get("cut", ""),
        species=said.get("species", "") or "other",
        arm=[_arm(row) for row in rows_of(fields, "arm") if row.get("name")],
        measure=[_measure(row) for row in rows_of(fields, "measure") if row.get("kind")],
        piece=pieces_said(said.get("pieces", ""), units),
        method=_method(said),
        cooker=[new] if new else [],
        stand_in=cookers,
        cooks=said.get("cooks", "") or "1",
        tasters=said.get("tasters", "") or "0",
        blind={"yes": True, "no": False}.get(said.get("blind", "")),
        price_piece=said.get("price_piece", ""),
        price_cook=said.get("price_cook", ""),
        currency=said.get("currency", ""),
        leave_out=lines_of(said.get("leave_out", "")),
        sure=said.get("sure", ""),
    )


def _method(said: dict[str, str]) -> Method:
    given = {name: _written(name, said[name]) for name in METHOD if said.get(name)}
    return Method(**given)


def _written(name: str, text: str) -> str:
    # As in the shell a bare number is refused: 275 may be a hot pit in either unit.
    return text.replace(",", ".") if name in _QUANTITIES else text


def _arm(row: dict[str, str]) -> str:
    name = row["name"]
    if ":" in name:
        raise JobError(N_("the arm “%(name)s”: write its name without a colon", name=name))
    changed = [
        f"{key.replace('_', '-')}={_written(key, row[key])}" for key in METHOD if row.get(key)
    ]
    return f"{name}: {', '.join(changed)}" if changed else name


_TIMES = ("cook time", "time to core")


def _measure(row: dict[str, str]) -> str:
    """Write a measure as `setting_up.ask_answers.measure_of` reads it."""
    kind, name = row["kind"], row.get("name", "")
    worth = row.get("worthwhile", "").replace(",", ".")
    if ":" in name or "," in name:
        message = N_("the measure “%(name)s”: write its name without colon and comma", name=name)
        raise JobError(message)
    better = f", {row['better']}" if row.get("better") else ""
    if kind in _TIMES:
        worth = with_unit(worth, "min")
    elif kind == "yield":
        worth = with_unit(worth, "points")
    if kind == "time to core":
        core = row.get("core", "")
        return f"time to {core}{better}: {worth}"
    if kind in ("score", "measured") and not name:
        message = N_(
            "name what is scored or measured (%(field)s), as “Bark”", field=InputField("name")
        )
        raise JobError(message, field="name")
    if kind == "score":
        ends = f"{row.get('scale_low') or '0'}-{row.get('scale_high') or '10'}"
        return f"{name} {ends}{better}: {worth}"
    if kind == "measured":
        return f"{name} in {row.get('unit') or '?'}{better}: {worth}"
    return f"{kind}{better}: {worth}"


def fields_of(given: WrittenAnswers) -> dict[str, str]:
    """Return the fields of a form that answers fill in, as those of the trial before."""
    fields = {
        "question": given.question,
        "title": given.title,
        "differs": given.differs,
        "cut": given.cut,
        "species": given.species,
        "cooks": given.cooks,
        "tasters": given.tasters,
        "blind": {True: "yes", False: "no", None: ""}[given.blind],
        "price_piece": given.price_piece,
        "price_cook": given.price_cook,
        "currency": given.currency,
        "leave_out": "\n".join(given.leave_out),
        "sure": given.sure,
        **{f"cooker-{one}": "yes" for one in given.stand_in},
        **dataclasses.asdict(given.method),
    }
    for number, text in enumerate(given.arm):
        name, changed = named(text, "arm")
        fields[f"arm-{number}-name"] = name
        for part in filter(None, re.split(r",(?=\s*[\w-]+\s*=)", changed)):
            key, _, value = part.partition("=")
            fields[f"arm-{number}-{key.strip().replace('-', '_')}"] = value.strip()
    for number, text in enumerate(given.measure):
        said = measure_of(text)
        # A yield and a time are named by their kind.
        own = said["kind"] in ("score", "measured")
        left = {"id"} if own else {"id", "name", "better"}
        row = {key: str(value) for key, value in said.items() if key not in left}
        fields |= {f"measure-{number}-{key}": value for key, value in row.items()}
    return fields
