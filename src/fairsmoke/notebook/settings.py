"""Settings that lie beside the record: one content for each name, the last one counts."""

from typing import Any

from sqlalchemy import Connection, select
from sqlalchemy.dialects.sqlite import insert

from fairsmoke.notebook.app_tables import SETTING
from fairsmoke.notebook.transaction import Transaction


def setting(connection: Connection, name: str) -> Any:
    """Return what was set under a name, as JSON has it; None when nothing was."""
    return connection.scalar(select(SETTING.c.content).where(SETTING.c.name == name))


def set_to(transaction: Transaction, name: str, content: Any) -> None:
    """Set what stands under a name, in place of what stood there."""
    said = {"content": content, "by": transaction.by, "changed_at": transaction.at}
    query = insert(SETTING).values(name=name, **said)
    transaction.connection.execute(query.on_conflict_do_update(index_elements=["name"], set_=said))
