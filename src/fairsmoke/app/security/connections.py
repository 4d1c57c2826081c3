"""HTTP connections that do not get on: how many one client holds, how long a request may take.

The server itself waits for ever for the rest of a request's head, so that a thousand half requests
use up its files. Here a head has to be whole within ``HEAD_S``, a body has to go on arriving, and
one client holds only so many connections; those that are over are closed without a word.
"""

import asyncio
from collections import Counter

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_S = 10.0
"""Within so long the head of a request has to be whole, from its first byte or the connection's."""
BODY_EVERY_S, BODY_BYTES = 20.0, 20_000
"""So many bytes of a body have to arrive in each such time: a photo over the worst of networks."""
MOST_OF_CLIENT = 200
"""Connections of one address: fifty devices and forty phones behind one router are fewer."""
MOST = 800
"""Connections in all. A connection is a file, and a system allows a program 1,024 by itself."""


class Connections:
    """What is open now, by client."""

    def __init__(self, most_of_client: int = MOST_OF_CLIENT, most: int = MOST) -> None:
        self.most_of_client, self.most = most_of_client, most
        self.by_client: Counter[str] = Counter()

    def takes(self, client: str) -> bool:
        """Count a connection; tell whether it may stay."""
        if self.by_client[client] >= self.most_of_client or self.by_client.total() >= self.most:
            return False
        self.by_client[client] += 1
        return True

    def ended(self, client: str) -> None:
        """Count a connection off."""
        self.by_client[client] -= 1
        if not self.by_client[client]:
            del self.by_client[client]


class GuardedProtocol(H11Protocol):
    """The server's HTTP/1.1 protocol, with limits on connections and on time."""

    open_now = Connections()
    head_s, body_every_s, body_bytes = HEAD_S, BODY_EVERY_S, BODY_BYTES

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take a connection, or close it when its client has too many."""
        super().connection_made(transport)
        self._head_timer: asyncio.TimerHandle | None = None
        self._body_timer: asyncio.TimerHandle | None = None
        self._arrived = 0
        self._who = self.client[0] if self.client else ""
        self._counted = self.open_now.takes(self._who)
        if not self._counted:
            transport.abort()
            return
        self._wait_for_head()

    def connection_lost(self, exc: Exception | None) -> None:
        """Count it off, and stop its timers."""
        for timer in (self._head_timer, self._body_timer):
            if timer is not None:
                timer.cancel()
        if self._counted:
            self.open_now.ended(self._who)
            self._counted = False
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Pass bytes on, and start the timer of what they began."""
        if not self._counted:
            return
        self._arrived += len(data)
        super().data_received(data)
        self._watch()

    def _watch(self) -> None:
        """Run the timer of what is unfinished: a head, a body, or none of both."""
        state, closing = self.conn.their_state, self.transport.is_closing()
        body = state is h11.SEND_BODY and not closing
        head = state is h11.IDLE and bool(self.conn.trailing_data[0]) and not closing
        if not head and self._head_timer is not None:
            self._head_timer.cancel()
            self._head_timer = None
        elif head and self._head_timer is None:
            self._wait_for_head()
        if not body and self._body_timer is not None:
            self._body_timer.cancel()
            self._body_timer = None
        elif body and self._body_timer is None:
            self._wait_for_body()

    def handle_websocket_upgrade(self, event: h11.Request) -> None:
        """Refuse what nothing here speaks."""
        self.send_400_response("Nothing here is served by WebSocket.")

    def _wait_for_head(self) -> None:
        self._head_timer = self.loop.call_later(self.head_s, self._too_slow)

    def _wait_for_body(self) -> None:
        self._body_timer = self.loop.call_later(
            self.body_every_s, self._body_went_on, self._arrived
        )

    def _body_went_on(self, before: int) -> None:
        self._body_timer = None
        # What we ourselves hold back, because the app reads slowly, is not the client's doing.
        if not self.flow.read_paused and self._arrived - before < self.body_bytes:
            self._too_slow()
        else:
            self._watch()

    def _too_slow(self) -> None:
        if not self.transport.is_closing():
            self.transport.abort()


def guarded(most_of_client: int = MOST_OF_CLIENT, most: int = MOST) -> type[GuardedProtocol]:
    """Return the protocol for one server, with counts of its own."""
    return type(
        "GuardedProtocol", (GuardedProtocol,), {"open_now": Connections(most_of_client, most)}
    )


__all__ = ["Connections", "GuardedProtocol", "guarded"]
