"""What was changed in a record, in the lines of a file: field by field, down into what it holds."""

from collections.abc import Iterator
from typing import Any


def value_line(value: Any) -> str:
    """Write a value of a file on one line, "" for nothing.

    >>> value_line([{"core": "71 °C"}, {"elapsed": "16 h"}])
    'core: 71 °C; elapsed: 16 h'
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return ", ".join(f"{key}: {value_line(one)}" for key, one in value.items())
    if isinstance(value, list | tuple):
        plain = all(isinstance(one, str) for one in value)
        return (" + " if plain else "; ").join(map(value_line, value))
    return str(value)


def changes_of(old: Any, new: Any, name: str = "") -> Iterator[tuple[str, str, str]]:
    """Yield each field that differs, with what it said and says; in nested ones only what differs.

    A stage or measure in a list goes by its handle.

    >>> old, new = {"ends": {"core": "71 °C", "feel": "soft"}}, {"ends": {"core": "73 °C"}}
    >>> list(changes_of(old, new))
    [('ends, core', '71 °C', '73 °C'), ('ends, feel', 'soft', '')]
    """
    if old == new:
        return
    before, after = _parts(old), _parts(new)
    if before is None or after is None:
        yield name, value_line(old), value_line(new)
        return
    for key in dict.fromkeys((*before, *after)):
        inner = f"{name}, {key}" if name else str(key)
        yield from changes_of(before.get(key), after.get(key), inner)


def _parts(value: Any) -> dict[str, Any] | None:
    """Return what a value holds by name; None for one that is told whole."""
    if isinstance(value, dict):
        return value
    if isinstance(value, list) and value and all(isinstance(one, dict) for one in value):
        handles = [one.get("id") for one in value]
        if all(isinstance(one, str) for one in handles) and len(set(handles)) == len(handles):
            return {str(one["id"]): one for one in value}
    return None
