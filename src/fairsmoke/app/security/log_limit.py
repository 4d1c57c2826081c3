"""A bounded log: the same line only so often, however often a stranger causes it."""

import logging
import time
from collections.abc import Callable

MOST_A_MINUTE = 20
_LOGGERS = ("asyncio", "uvicorn.error", "fairsmoke.app")


class LogLimit(logging.Filter):
    """Lets each text of a logger (before its values are put in) pass so often in a minute.

    The next one that passes after some did not says how many they were.
    """

    def __init__(
        self, most: int = MOST_A_MINUTE, clock: Callable[[], float] = time.monotonic
    ) -> None:
        super().__init__()
        self._most = most
        self._clock = clock
        self._seen: dict[tuple[str, str], tuple[float, int]] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        """Tell whether a record is logged."""
        key = (record.name, str(record.msg)[:80])
        now_s = self._clock()
        since_s, count = self._seen.get(key, (now_s, 0))
        if now_s - since_s >= 60.0:
            if count > self._most:
                record.msg = f"{record.msg} ({count - self._most} more like it were not logged)"
            since_s, count = now_s, 0
        self._seen[key] = (since_s, count + 1)
        if len(self._seen) > 1000:
            self._seen.clear()
        return count < self._most


def limit_logs() -> None:
    """Bound what the server and the app log."""
    limit = LogLimit()
    for name in _LOGGERS:
        logging.getLogger(name).addFilter(limit)
