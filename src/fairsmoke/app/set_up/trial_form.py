"""A trial as a form: from the record to fields, and back without losing anything.

Quantities stand in the fields with their units; a bare number is in the person's own. The fields of
a stage and of a change are named alike: ``stage-0-core``, ``change-1-core``.
"""

from typing import Any

from fairsmoke.app.set_up.fields import Fields, given, handle_from, rows_of, with_unit
from fairsmoke.quantity import (
    QuantityError,
    Units,
    parse_duration,
    parse_temperature,
    show_duration,
    show_temperature,
)
from fairsmoke.trial.protocol import Stage, StageChange
from fairsmoke.trial.question import Trial

FIRST = {"stage": 2, "arm": 2, "change": 1, "measure": 1}
"""How many rows an empty form has."""
MOST = {"stage": 12, "arm": 6, "change": 24, "measure": 8}


def empty() -> dict[str, str]:
    """Return the fields of a new trial."""
    fields = {f"{row}-{n}-name": "" for row, count in FIRST.items() for n in range(count)}
    return fields | {
        "measure-0-kind": "yield",
        "measure-0-better": "higher",
        "main": "0",
        "draw_how": "drawn",
        "draw_within": "pair",
        "sure": "0.95",
    }


def fields_of(trial: Trial, units: Units) -> dict[str, str]:
    """Return the fields that say a trial; ``trial_of`` makes the same trial of them.

    Temperatures are in the person's unit and times in hours and minutes wherever that says the
    same number exactly.
    """
    return {name: _as_read(name, text, units) for name, text in _written_fields(trial).items()}


def _as_read(name: str, text: str, units: Units) -> str:
    """Return a quantity of a file as a person reads it, if it is then read as the same."""
    key = name.rpartition("-")[2]
    parts = []
    for part in text.split("; ") if key in _TEMPERATURES | _TIMES else ():
        try:
            parts.append(_temperature(part, units) if key in _TEMPERATURES else _time(part))
        except QuantityError:
            return text
    return "; ".join(parts) if parts else text


_TEMPERATURES = frozenset({"surround", "core"})
_TIMES = frozenset({"elapsed", "worthwhile", "spread"})


def _temperature(text: str, units: Units) -> str:
    value_c = parse_temperature(text)
    for digits in (0, 1):
        shown = show_temperature(value_c, units, digits)
        if parse_temperature(shown) == value_c:
            return shown
    return text


def _time(text: str) -> str:
    value_s = parse_duration(text)
    shown = show_duration(value_s)
    return shown if parse_duration(shown) == value_s else text


def _written_fields(trial: Trial) -> dict[str, str]:
    fields = {
        "title": trial.title,
        "question": trial.question,
        "differs": trial.differs,
        "note": trial.note,
        "invented": "yes" if trial.invented else "",
        "draw_how": trial.draw.how,
        "draw_within": trial.draw.within,
        "draw_note": trial.draw.note,
        "draw_seed": "" if trial.draw.seed is None else str(trial.draw.seed),
        "sure": repr(trial.verdict.sure),
        "altitude": trial.to_file().get("altitude", ""),
        "main": "",
    }
    for n, one in enumerate(trial.protocol.stages):
        fields |= _row("stage", n, {"id": one.id, "name": one.name} | _stage_fields(one))
    changes: list[dict[str, str]] = []
    places = {stage.id: str(n) for n, stage in enumerate(trial.protocol.stages)}
    for n, arm in enumerate(trial.arms):
        fields |= _row("arm", n, {"id": arm.id, "name": arm.name, "note": arm.note})
        for change in arm.changes:
            # A change to what another change added has no number of its own.
            stage = places.get(change.stage, change.stage)
            changes += _change_rows({"arm": str(n), "stage": stage}, change)
    for n, row in enumerate(changes):
        fields |= _row("change", n, row)
    for n, measure in enumerate(trial.measures):
        written = {key: str(value) for key, value in measure.to_file().items()}
        written.pop("main", None)
        fields |= _row("measure", n, written)
        if measure.main:
            fields["main"] = str(n)
    return fields


def _row(name: str, number: int, values: dict[str, str]) -> dict[str, str]:
    return {f"{name}-{number}-{key}": value for key, value in values.items()}


def _stage_fields(stage: Stage | StageChange) -> dict[str, str]:
    content = stage.to_file()
    fields = {
        "place": str(content.get("place", "")),
        "surround": str(content.get("surround", "")),
        "humidity": str(content.get("humidity", "")),
        "note": str(content.get("note", "")),
    }
    if stage.wrap is not None:
        fields |= {"above": str(stage.wrap.above), "below": str(stage.wrap.below)}
    for end in stage.ends or ():
        written = end.to_file()
        key = next(iter(written))
        several = fields.get(key)
        fields[key] = f"{several}; {written[key]}" if several else str(written[key])
    if stage.adds is not None:
        fields["adds"] = "\n".join(_added(one.to_file()) for one in stage.adds) or "none"
    return fields


def _added(one: dict[str, Any]) -> str:
    mass = f", {one['mass']}" if "mass" in one else ""
    return f"{one['what']}: {one['name']}{mass}"


def _change_rows(base: dict[str, str], change: StageChange) -> list[dict[str, str]]:
    rows = []
    if change.leave_out:
        rows.append({**base, "how": "leave out"})
    if change.changed:
        rows.append({**base, "how": "change", **_stage_fields(change)})
    if change.put_after is not None:
        added = change.put_after
        fields = _stage_fields(added)
        rows.append({**base, "how": "add", "id": added.id, "name": added.name, **fields})
    return rows


def trial_of(fields: Fields, units: Units, *, handle: str) -> Trial:
    """Return the trial of that handle that the fields of a form say.

    Rows without a name, and changes without an arm or stage, are left out. A change names its arm
    and its stage by the number of their row.
    Raises pydantic.ValidationError, with the place in the record of each thing to be mended.
    """
    ids: list[str] = []
    numbered: dict[str, str] = {}
    stages = []
    for number, row in enumerate(rows_of(fields, "stage")):
        if row.get("name"):
            stages.append(_stage(row, units, ids))
            numbered[str(number)] = ids[-1]
    changes = [
        {**row, "stage": numbered.get(row.get("stage", ""), row.get("stage", ""))}
        for row in rows_of(fields, "change")
    ]
    arms = []
    arm_ids: list[str] = []
    for number, row in enumerate(rows_of(fields, "arm")):
        if not row.get("name"):
            continue
        arm_ids.append(row.get("id") or handle_from(row["name"], arm_ids, "arm"))
        own = [one for one in changes if one.get("arm") == str(number) and one["stage"]]
        made = [_change(one, units, ids) for one in own]
        arms.append(given(id=arm_ids[-1], name=row["name"], note=row.get("note", ""), changes=made))
    return Trial.from_file(
        given(
            id=handle,
            title=fields.get("title", ""),
            question=fields.get("question", ""),
            differs=fields.get("differs", ""),
            note=fields.get("note", ""),
            invented=fields.get("invented") == "yes" or None,
            altitude=with_unit(fields.get("altitude", ""), "m"),
        )
        | {
            "protocol": {"stages": stages},
            "arms": arms,
            "measures": _measures(fields, units),
            "draw": given(
                how=fields.get("draw_how", ""),
                within=fields.get("draw_within", ""),
                note=fields.get("draw_note", ""),
                seed=fields.get("draw_seed", ""),
            ),
            "verdict": given(sure=fields.get("sure", "")),
        }
    )


def _stage(row: dict[str, str], units: Units, ids: list[str]) -> dict[str, object]:
    handle = row.get("id") or handle_from(row["name"], ids, "stage")
    ids.append(handle)
    content = given(id=handle, name=row["name"], **_of_stage(row, units))
    # A stage that ends by nothing is refused by the record, at its place.
    return content | {"ends": _ends(row, units), "adds": _adds(row.get("adds", ""))}


def _of_stage(row: dict[str, str], units: Units) -> dict[str, object]:
    above, below = row.get("above", ""), row.get("below", "")
    return {
        "place": row.get("place", ""),
        "surround": with_unit(row.get("surround", ""), f"°{units.temperature}"),
        "humidity": row.get("humidity", ""),
        "wrap": {"above": above or below, "below": below or above} if above or below else None,
        "note": row.get("note", ""),
    }


def _ends(row: dict[str, str], units: Units) -> list[dict[str, str]]:
    own = {"core": f"°{units.temperature}", "elapsed": "h", "clock": "", "feel": ""}
    return [
        {key: with_unit(part.strip(), unit) if unit else part.strip()}
        for key, unit in own.items()
        for part in row.get(key, "").split(";")
        if part.strip()
    ]


def _adds(text: str) -> list[dict[str, str]]:
    if text.strip() == "none":
        return []
    found = []
    for line in text.splitlines():
        what, _, rest = line.partition(":")
        name, _, mass = rest.rpartition(",")
        if not name:
            name, mass = rest, ""
        if line.strip():
            found.append({"what": what.strip(), "name": name.strip()} | _mass(mass.strip()))
    return found


def _mass(text: str) -> dict[str, str]:
    return {"mass": text} if text else {}


def _change(row: dict[str, str], units: Units, stage_ids: list[str]) -> dict[str, object]:
    change: dict[str, object] = {"stage": row["stage"]}
    how = row.get("how", "change")
    if how == "leave out":
        return change | {"leave_out": True}
    if how == "add":
        return change | {
            "put_after": _stage({**row, "name": row.get("name", "")}, units, stage_ids)
        }
    content = given(**_of_stage(row, units), ends=_ends(row, units))
    if adds := row.get("adds", "").strip():
        content["adds"] = _adds(adds)
    return change | content


def _measures(fields: Fields, units: Units) -> list[dict[str, object]]:
    measures: list[dict[str, object]] = []
    ids: list[str] = []
    named = [
        (number, row) for number, row in enumerate(rows_of(fields, "measure")) if row.get("name")
    ]
    for number, row in named:
        handle = row.get("id") or handle_from(row["name"], ids, "measure")
        ids.append(handle)
        kind = row.get("kind", "")
        unit = {"yield": "points", "cook time": "min", "time to core": "min"}.get(kind, "")
        measures.append(
            given(
                id=handle,
                name=row["name"],
                kind=kind,
                better=row.get("better", ""),
                worthwhile=_difference(row.get("worthwhile", ""), unit),
                spread=_difference(row.get("spread", ""), unit),
                unit=row.get("unit", "") if kind == "measured" else "",
                state=row.get("state", "") if kind == "yield" else "",
                core=with_unit(row.get("core", ""), f"°{units.temperature}")
                if kind == "time to core"
                else "",
                scale_low=row.get("scale_low", "") if kind == "score" else "",
                scale_high=row.get("scale_high", "") if kind == "score" else "",
                main=fields.get("main") == str(number) or None,
            )
        )
    return measures


def _difference(text: str, unit: str) -> str:
    return with_unit(text, unit) if unit else text
