"""Where the broker is and how to sign in there: options of `serve`, or kept in the notebook.

The password lies in the notebook's file and in its backups, in the open, because it has to be
shown to the broker; it is in no exported folder, no page and no message.
"""

from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select

from fairsmoke.app.people.secrets import new_token
from fairsmoke.notebook.beside import SETTING
from fairsmoke.notebook.transaction import Transaction

PORT, TLS_PORT = 1883, 8883
TOPIC = "fairsmoke"


@dataclass(frozen=True)
class Broker:
    """A broker's address and how to sign in. ``authority`` is a file of certificates to trust."""

    host: str
    port: int = PORT
    user: str = ""
    password: str = ""
    tls: bool = False
    topic: str = TOPIC
    authority: Path | None = None

    def __repr__(self) -> str:
        """Show everything but the password."""
        return f"Broker({self.host}:{self.port}, user={self.user!r}, tls={self.tls})"

    @property
    def topics(self) -> str:
        """The topic filter under which devices publish: the middle level is the device."""
        return f"{self.topic}/+/readings"


def kept_broker(connection: Connection) -> Broker | None:
    """Return the broker that was set on screen, if any."""
    value = _setting(connection, "broker")
    return Broker(**value) if value else None


def keep_broker(transaction: Transaction, broker: Broker | None) -> None:
    """Set the broker, or none."""
    content = asdict(replace(broker, authority=None)) if broker else None
    _keep(transaction, "broker", content)


def session_name(transaction: Transaction) -> str:
    """Return the name by which the broker keeps messages for this notebook while it is away."""
    kept = _setting(transaction.connection, "broker_session")
    if kept is None:
        kept = f"fairsmoke-{new_token()[:14]}"
        _keep(transaction, "broker_session", kept)
    return str(kept)


def _setting(connection: Connection, name: str) -> Any:
    return connection.scalars(select(SETTING.c.value).where(SETTING.c.name == name)).first()


def _keep(transaction: Transaction, name: str, value: Any) -> None:
    connection = transaction.connection
    connection.execute(SETTING.delete().where(SETTING.c.name == name))
    if value is not None:
        connection.execute(SETTING.insert().values(name=name, value=value))
