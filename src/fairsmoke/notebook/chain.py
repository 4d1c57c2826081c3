"""Hash chain over the history: each revision seals itself and all that were recorded before it.

What was changed in the file by anything but this program no longer fits the chain: who recorded
something, when, why, or an earlier state. It guards against slips of disks and hands, not against
somebody who works the whole chain out anew; against that helps a seal noted elsewhere, as every
report does. The form of a link never changes: a notebook keeps it for good.
"""

import hashlib
import json
from collections.abc import Iterator

from sqlalchemy import Connection, select

from fairsmoke.messages.message import N_, Words
from fairsmoke.notebook.mapper import Columns, microseconds_of
from fairsmoke.notebook.tables import REVISION

START = ""
"""What stands before the first revision."""


def link(before: str, row: Columns, recorded_us: int) -> str:
    """Return the seal of a revision: 64 hexadecimal digits of SHA-256.

    ``before`` is the seal of the one recorded before it, ``recorded_us`` its moment in
    microseconds since 1970 UTC, ``row`` its other columns by name.
    """
    said = [
        before,
        row["id"],
        row["kind"],
        row["trial_id"],
        row["record_id"],
        row["number"],
        recorded_us,
        row["by"],
        row["why"],
        bool(row["struck"]),
        row["body"],
    ]
    text = json.dumps(said, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def last_seal(connection: Connection) -> str:
    """Return the seal of the last revision, which stands for the whole history; "" without any."""
    query = select(REVISION.c.seal).order_by(REVISION.c.id.desc()).limit(1)
    return str(connection.scalar(query) or START)


def broken_links(connection: Connection) -> Iterator[Words]:
    """Yield every revision that is not as it was recorded, or behind which one is missing."""
    before = START
    for row in connection.execute(select(REVISION).order_by(REVISION.c.id)).mappings():
        if row["seal"] != link(before, row, microseconds_of(row["recorded_at"])):
            yield N_(
                "%(record)s, revision %(number)s: changed since it was recorded, or one before it "
                "was taken away; keep the file, and compare it with a copy",
                record=f"{row['kind']} {row['record_id']}",
                number=row["number"],
            )
        before = row["seal"]
