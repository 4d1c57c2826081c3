"""Handles for what is recorded at the pit: short, in the order of recording, never used twice."""

from sqlalchemy import Connection, func, select

from fairsmoke.notebook.tables import TABLES


def next_handle(connection: Connection, trial: str, cook: str, kind: str) -> str:
    """Return a free handle such as "first-fire-event-7"; what was struck out keeps its own."""
    table = TABLES[kind].c
    of_cook = table.cook == cook if cook else table.cook.is_(None)
    counted = select(func.count()).where(table.trial_id == trial, of_cook)
    start = cook[:40].rstrip("-") or "trial"
    number = int(connection.scalar(counted) or 0) + 1
    while connection.scalar(
        select(table.id).where(table.trial_id == trial, table.id == f"{start}-{kind}-{number}")
    ):
        number += 1
    return f"{start}-{kind}-{number}"
