"""What forms of the set-up pages have in common: fields in rows, handles from names, units."""

import re
import unicodedata
from collections.abc import Collection, Mapping

from sqlalchemy import Connection

from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.rows import load_kept

Fields = Mapping[str, str]
"""The fields of a form, by name; nothing written is ""."""

_NUMBER = re.compile(r"[-−]?[0-9]+([.,][0-9]+)?")


def handle_from(name: str, taken: Collection[str], otherwise: str) -> str:
    """Return a free handle made from a name: "Left, by the fire" becomes "left-by-the-fire"."""
    plain = unicodedata.normalize("NFKD", name.replace("ß", "ss")).encode("ascii", "ignore")
    start = re.sub(r"[^a-z0-9]+", "-", plain.decode().lower()).strip("-")[:48].strip("-")
    start = start or otherwise
    handle, number = start, 2
    while handle in taken:
        handle, number = f"{start}-{number}", number + 1
    return handle


def free_handle(connection: Connection, kind: str, trial: str, name: str) -> str:
    """Return a free handle for something of that name; what was struck out keeps its own."""
    taken = {one.key.handle for one in load_kept(connection, KINDS[kind], trial, struck=True)}
    return handle_from(name, taken, kind)


def rows_of(fields: Fields, name: str) -> list[dict[str, str]]:
    """Return rows of fields such as "stage-0-name", in order: [{"name": …}, …]."""
    found: dict[int, dict[str, str]] = {}
    for key, value in fields.items():
        match = re.fullmatch(rf"{name}-(\d{{1,3}})-(\w+)", key)
        if match:
            found.setdefault(int(match[1]), {})[match[2]] = value.strip()
    return [found[number] for number in sorted(found)]


def with_unit(text: str, unit: str) -> str:
    """Return a quantity with its unit; a bare number is in the person's own."""
    return f"{text} {unit}" if _NUMBER.fullmatch(text) else text


def given(**values: object) -> dict[str, object]:
    """Return what was written: without what is "", None or nothing."""
    return {name: value for name, value in values.items() if value not in ("", None, (), [])}
