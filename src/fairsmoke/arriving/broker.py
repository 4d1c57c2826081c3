"""Where the broker is and how to sign in there: options of `serve`, or kept in the notebook.

The password lies in the notebook's file and in its backups, in the open, because it has to be
shown to the broker; it is in no exported folder, no page and no message.
"""

import secrets
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from sqlalchemy import Connection

from fairsmoke.notebook.transaction import Transaction, set_to, setting

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
    value = setting(connection, "readings/broker")
    return Broker(**value) if value else None


def keep_broker(transaction: Transaction, broker: Broker | None) -> None:
    """Set the broker, or none."""
    content = asdict(replace(broker, authority=None)) if broker else None
    set_to(transaction, "readings/broker", content)


def session_name(transaction: Transaction) -> str:
    """Return the name by which the broker keeps messages for this notebook while it is away."""
    kept = setting(transaction.connection, "readings/broker/session")
    if kept is None:
        kept = f"fairsmoke-{secrets.token_urlsafe(12)[:14]}"
        set_to(transaction, "readings/broker/session", kept)
    return str(kept)
