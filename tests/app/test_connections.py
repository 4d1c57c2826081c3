"""Strangers on the network: half requests, slow bodies, too many connections, a flooded log."""

import asyncio
import contextlib
import logging
from collections.abc import AsyncIterator, Awaitable, Callable
from typing import Any

import pytest
import uvicorn

from fairsmoke.app.security.connections import GuardedProtocol, guarded
from fairsmoke.app.security.log_limit import LogLimit

Talk = Callable[[int], Awaitable[Any]]


async def echo(scope: dict[str, Any], receive: Any, send: Any) -> None:
    """Answer with how much was sent, after all of it came."""
    size, more = 0, True
    while more:
        message = await receive()
        size, more = size + len(message.get("body", b"")), message.get("more_body", False)
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": str(size).encode()})


@contextlib.asynccontextmanager
async def served(protocol: type[GuardedProtocol]) -> AsyncIterator[int]:
    config = uvicorn.Config(
        echo, host="127.0.0.1", port=0, http=protocol, lifespan="off", log_level="error"
    )
    server = uvicorn.Server(config)
    task = asyncio.create_task(server.serve())
    while not server.started:
        await asyncio.sleep(0.005)
    try:
        yield server.servers[0].sockets[0].getsockname()[1]
    finally:
        server.should_exit = True
        await task


def talk(work: Talk, *, most: int = 10, **limits: float) -> Any:
    made = guarded(most)
    for name, value in limits.items():
        setattr(made, name, value)

    async def whole() -> Any:
        async with served(made) as port:
            return await asyncio.wait_for(work(port), 20)

    return asyncio.run(whole()), made.open_now


async def dripped(port: int, head: bytes, part: bytes, every_s: float, most: int = 400) -> bytes:
    """Send a part again and again until the server closes; return what it answered."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    writer.write(head)
    with contextlib.suppress(ConnectionError):
        for _ in range(most):
            writer.write(part)
            await writer.drain()
            await asyncio.sleep(every_s)
            if reader.at_eof() or writer.is_closing():
                break
    answer = b""
    with contextlib.suppress(ConnectionError):
        answer = await reader.read()
    writer.close()
    return answer


def test_a_head_that_never_ends_is_closed_though_bytes_keep_coming() -> None:
    answer, left = talk(
        lambda port: dripped(port, b"GET / HTTP/1.1\r\nHost: a\r\n", b"X-A: b\r\n", 0.02),
        head_s=0.2,
    )
    assert answer == b""
    assert left.by_client.total() == 0


def test_who_connects_and_says_nothing_is_closed() -> None:
    async def silent(port: int) -> bytes:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        try:
            return await reader.read()
        except ConnectionError:
            return b""
        finally:
            writer.close()

    assert talk(silent, head_s=0.2)[0] == b""


def test_a_body_that_hardly_comes_is_closed_and_one_that_goes_on_is_answered() -> None:
    head = b"POST / HTTP/1.1\r\nHost: a\r\nConnection: close\r\nContent-Length: 2000\r\n\r\n"
    slow, _ = talk(lambda port: dripped(port, head, b"a", 0.02), body_every_s=0.2, body_bytes=100)
    assert slow == b""
    # A head that was whole is not taken for one that never ends.
    steady, left = talk(
        lambda port: dripped(port, head, b"a" * 50, 0.01, 40),
        head_s=0.1,
        body_every_s=0.2,
        body_bytes=100,
    )
    assert b"\r\n2000\r\n" in steady
    assert left.by_client.total() == 0


def test_one_client_holds_so_many_connections_and_no_more() -> None:
    async def many(port: int) -> tuple[int, bytes]:
        kept = [await asyncio.open_connection("127.0.0.1", port) for _ in range(5)]
        await asyncio.sleep(0.1)
        closed = sum(reader.at_eof() for reader, _ in kept)
        for _, writer in kept:
            writer.close()
        await asyncio.sleep(0.1)
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(b"GET / HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n")
        answer = await reader.read()
        writer.close()
        return closed, answer

    (closed, answer), left = talk(many, most=3)
    assert closed == 2
    assert answer.startswith(b"HTTP/1.1 200")
    assert left.by_client.total() == 0


def test_a_kept_connection_is_answered_again_and_again() -> None:
    async def twice(port: int) -> bytes:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        for turn in range(3):
            await asyncio.sleep(0.15 * turn)
            writer.write(b"GET / HTTP/1.1\r\nHost: a\r\n\r\n")
            answer = await reader.readuntil(b"0\r\n\r\n")
        writer.close()
        return answer

    assert talk(twice, head_s=0.1)[0].startswith(b"HTTP/1.1 200")


@pytest.mark.parametrize("most", [1, 5])
def test_the_same_line_is_logged_so_often_a_minute(most: int) -> None:
    now = [0.0]
    limit = LogLimit(most, clock=lambda: now[0])

    def line(text: str) -> logging.LogRecord:
        return logging.LogRecord("asyncio", logging.ERROR, "", 0, text, ("x",), None)

    passed = [limit.filter(line("%s: no more files")) for _ in range(most + 7)]
    assert passed == [True] * most + [False] * 7
    assert limit.filter(line("%s: something else"))
    now[0] = 60.0
    following = line("%s: no more files")
    assert limit.filter(following)
    assert following.getMessage() == "x: no more files (7 more like it were not logged)"
