"""Readings by MQTT: the same batches as over HTTP, one topic a device, taken at least once.

A message is acknowledged when it is on the disk, so what the broker holds when the app is killed
comes again; the batch's id makes it count once.
"""

import asyncio
import contextlib
import logging
import ssl
from collections.abc import AsyncIterator
from dataclasses import dataclass
from datetime import UTC, datetime

import aiomqtt
from pydantic import ValidationError

from fairsmoke.arriving.batch import Batch, BatchTaken, arrived
from fairsmoke.arriving.broker import Broker, kept_broker, session_name
from fairsmoke.arriving.hub import Hub
from fairsmoke.arriving.writer import Writer
from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_, Words
from fairsmoke.notebook import Notebook

_log = logging.getLogger("fairsmoke.app")

WAITS_S = (1.0, 2.0, 5.0, 10.0, 30.0)
"""How long before the broker is tried again, longer each time."""
MOST_BYTES = 1_000_000
MOST_NAME = 60
AT_ONCE = 200
"""Messages that may wait for the disk; the broker keeps what is behind them."""

_Acked = tuple[aiomqtt.Message, "asyncio.Task[BatchTaken] | None"]


@dataclass
class BrokerState:
    """What the page of the broker shows."""

    connected_at: datetime | None = None
    wrong: str = ""
    messages: int = 0
    refused: int = 0


class MqttWay:
    """Holds the connection to the broker, whatever happens to it."""

    def __init__(self, book: Notebook, writer: Writer, hub: Hub, told: Broker | None) -> None:
        self.state = BrokerState()
        self.told = told
        self._book = book
        self._writer = writer
        self._hub = hub
        self._changed = asyncio.Event()

    def change(self) -> None:
        """Look at the settings anew and connect again."""
        self._changed.set()

    def broker(self) -> Broker | None:
        """Return the broker of the command line, or else the one that is kept."""
        if self.told is not None:
            return self.told
        with self._book.reading() as connection:
            return kept_broker(connection)

    async def run(self) -> None:
        """Stay connected until cancelled."""
        tries = 0
        while True:
            self._changed.clear()
            broker = await asyncio.to_thread(self.broker)
            if broker is None:
                self.state = BrokerState()
                await self._changed.wait()
                continue
            following = asyncio.create_task(self._follow(broker))
            changed = asyncio.create_task(self._changed.wait())
            try:
                await asyncio.wait({following, changed}, return_when=asyncio.FIRST_COMPLETED)
            finally:
                for task in (following, changed):
                    task.cancel()
                outcome = (await asyncio.gather(following, changed, return_exceptions=True))[0]
            if self._changed.is_set():
                tries = 0
                continue
            if self.state.connected_at is not None:
                tries = 0
            self._lost(broker, outcome)
            with contextlib.suppress(TimeoutError):
                wait_s = WAITS_S[min(tries, len(WAITS_S) - 1)]
                await asyncio.wait_for(self._changed.wait(), wait_s)
            tries += 1

    def _lost(self, broker: Broker, outcome: object) -> None:
        why = str(outcome) or type(outcome).__name__
        if isinstance(outcome, Exception) and not isinstance(
            outcome, aiomqtt.MqttError | OSError | ValueError
        ):
            _log.error("The way to the broker failed", exc_info=outcome)
        if self.state.connected_at is not None or self.state.wrong != why:
            self._hub.tell(broker.host, N_("Not connected: %(why)s", why=why))
        self.state.connected_at, self.state.wrong = None, why

    async def _follow(self, broker: Broker) -> None:
        with self._book.transaction() as transaction:
            identifier = session_name(transaction)
        context = await asyncio.to_thread(_tls, broker) if broker.tls else None
        client = aiomqtt.Client(
            broker.host,
            broker.port,
            identifier=identifier,
            username=broker.user or None,
            password=broker.password or None,
            clean_session=False,
            keepalive=30,
            tls_context=context,
        )
        # Has no word in aiomqtt: without it a message is acknowledged before it is written. Set
        # before it connects, since the broker sends at once what it kept meanwhile.
        client._client.manual_ack_set(True)
        async with client:
            await client.subscribe(broker.topics, qos=1)
            self.state.connected_at, self.state.wrong = datetime.now(UTC), ""
            self._hub.tell(broker.host, N_("Connected; listens to %(topic)s", topic=broker.topics))
            waiting: asyncio.Queue[_Acked] = asyncio.Queue(AT_ONCE)
            acknowledging = asyncio.create_task(self._acknowledge(client, waiting))
            try:
                async for one in _until(client, acknowledging):
                    await waiting.put((one, self._taken(one)))
            finally:
                acknowledging.cancel()
                await asyncio.gather(acknowledging, return_exceptions=True)

    def _taken(self, message: aiomqtt.Message) -> "asyncio.Task[BatchTaken] | None":
        """Begin to write a message; None when it cannot be read, which is told."""
        self.state.messages += 1
        name = str(message.topic).split("/")[-2]
        try:
            if len(name) > MOST_NAME or not name.isprintable() or not name.strip():
                raise InputError(N_("the device's level of the topic is no name"))
            payload = message.payload
            if not isinstance(payload, bytes | str) or len(payload) > MOST_BYTES:
                raise InputError(N_("the payload is no text, or larger than 1 MB"))
            batch = Batch.model_validate_json(payload)
        except ValueError as error:
            self._refused(name, N_("A message cannot be read: %(why)s", why=_short(error)))
            return None
        what = arrived(batch, "mqtt", name, name, datetime.now(UTC))
        return asyncio.create_task(self._writer.take(what))

    async def _acknowledge(self, client: aiomqtt.Client, waiting: "asyncio.Queue[_Acked]") -> None:
        # In the order in which they came, as MQTT 3.1.1 asks in 4.6 (from memory).
        while True:
            message, task = await waiting.get()
            if task is not None:
                try:
                    await task
                except InputError as error:
                    if error.kind in ("busy", "storage"):
                        raise
                    name = str(message.topic).split("/")[-2]
                    self._refused(name, error.message)
            client._client.ack(message.mid, message.qos)

    def _refused(self, name: str, why: Words) -> None:
        self.state.refused += 1
        self._hub.tell(name, why)


async def _until(
    client: aiomqtt.Client, other: "asyncio.Task[None]"
) -> AsyncIterator[aiomqtt.Message]:
    """Yield messages until the other task fails, which is then raised."""
    messages = aiter(client.messages)
    while True:
        following = asyncio.ensure_future(anext(messages))
        try:
            await asyncio.wait({following, other}, return_when=asyncio.FIRST_COMPLETED)
        finally:
            if not following.done():
                following.cancel()
        if other.done():
            other.result()
        yield await following


def _tls(broker: Broker) -> ssl.SSLContext:
    return ssl.create_default_context(cafile=str(broker.authority) if broker.authority else None)


def _short(error: ValueError) -> str:
    if isinstance(error, ValidationError):
        first = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(part) for part in first["loc"])
        return f"{place}: {first['msg'].removeprefix('Value error, ')}"
    return str(error)[:300]
