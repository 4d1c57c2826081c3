"""Rate limits by key and by client, and the largest size of what is sent."""

import time
from collections.abc import Awaitable, Callable, Sequence

from limits import RateLimitItem, parse
from limits.storage import MemoryStorage
from limits.strategies import MovingWindowRateLimiter
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from fairsmoke.app.problems import AppError
from fairsmoke.app.security.headers import refusal
from fairsmoke.app.settings import IntakeLimits
from fairsmoke.messages.message import N_

Known = Callable[[dict[bytes, bytes]], Awaitable[bool]]
_WITHOUT_BODY = frozenset({"GET", "HEAD", "OPTIONS"})


class RateLimiter:
    """Moving-window rate limiter by key; its counts are kept in memory, gone with the program."""

    def __init__(self, limit: str) -> None:
        self._item: RateLimitItem = parse(limit)
        self._limiter = MovingWindowRateLimiter(MemoryStorage())

    def count(self, *key: str) -> int:
        """Count one try; return 0 when it is allowed, else after how many seconds the next is."""
        if self._limiter.hit(self._item, *key):
            return 0
        stats = self._limiter.get_window_stats(self._item, *key)
        return max(1, round(stats.reset_time - time.time()))

    def check(self, *key: str) -> None:
        """Count one try; raise AppError when there were too many."""
        wait_s = self.count(*key)
        if wait_s:
            raise too_often(wait_s)

    def forget(self, *key: str) -> None:
        """Begin anew for a key, as after a sign-in that succeeded."""
        self._limiter.clear(self._item, *key)


def too_often(wait_s: int) -> AppError:
    """Return the error that says how long to wait."""
    message = N_("Too many tries. Wait %(seconds)s seconds, then try again.", seconds=wait_s)
    return AppError(429, "too-often", message, headers={"Retry-After": str(wait_s)})


class TooLargeError(AppError):
    """More was sent than is taken at once."""

    def __init__(self, most: int) -> None:
        if most < 1_000_000:
            message = N_("That is too large: at most %(kilobytes)s kB.", kilobytes=most // 1000)
        else:
            megabytes = most // 1_000_000
            message = N_("That is too large: at most %(megabytes)s MB.", megabytes=megabytes)
        super().__init__(413, "too-large", message)


class RequestLimits:
    """ASGI middleware that limits the rate of requests by client and the size of each.

    ``larger`` are (start of the path, bytes) for which more is taken. ``known`` tells whether
    the cookie or token of a request's headers belongs to somebody: from a stranger only as much is
    taken as signing in needs, before anything is read or kept of it.
    """

    def __init__(
        self, app: ASGIApp, limits: IntakeLimits, larger: Sequence[tuple[str, int]], known: Known
    ) -> None:
        self.app = app
        self.rate = RateLimiter(limits.per_client)
        self.limits = limits
        self.larger = tuple(larger)
        self.known = known

    async def most(self, path: str, headers: dict[bytes, bytes]) -> int:
        """Return how many bytes are taken at a path from whoever these headers show."""
        if not await self.known(headers):
            return min(self.limits.stranger, self.limits.body)
        larger = [most for start, most in self.larger if path.startswith(start)]
        if larger:
            return larger[0]
        form = headers.get(b"content-type", b"").startswith(b"application/x-www-form-urlencoded")
        return self.limits.form if form else self.limits.body

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        client = scope.get("client")
        wait_s = self.rate.count(client[0] if client else "")
        path = scope["path"]
        if wait_s:
            message = f"Too many requests; wait {wait_s} seconds."
            answer = refusal(path, 429, "too-often", message)
            answer.headers["Retry-After"] = str(wait_s)
            await answer(scope, receive, send)
            return
        if scope["method"] in _WITHOUT_BODY:
            await self.app(scope, receive, send)
            return
        headers = dict(scope["headers"])
        most = await self.most(path, headers)
        said = headers.get(b"content-length", b"0")
        if not said.isdigit() or int(said) > most:
            error = TooLargeError(most)
            await refusal(path, 413, error.code, error.message.english)(scope, receive, send)
            return
        taken = 0

        async def counted() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            # A length need not be said beforehand, and need not be true.
            if taken > most:
                raise TooLargeError(most)
            return message

        await self.app(scope, counted, send)
