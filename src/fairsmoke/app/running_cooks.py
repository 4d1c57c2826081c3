"""Running cooks as all open pages see them: worked out once, when something changed.

Each open page asks every two seconds. What is the same for all (reading the notebook, marks,
alerts) is done once for each cook; only the words and units are each person's own.
"""

import threading
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from sqlalchemy import Connection, func, select

from fairsmoke.live.alert_limits import AlertThresholds, watch_of
from fairsmoke.live.alerts import Alert, alerts_of
from fairsmoke.live.cached_readings import KeptReadings
from fairsmoke.live.curve import Curve, curve_of
from fairsmoke.live.snapshot import CookNow, cook_now
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.app_tables import SETTING
from fairsmoke.notebook.tables import LOOSE_READING, READING_BLOCK, REVISION
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.question import Trial

STALE = timedelta(seconds=15)
"""Without anything new a cook is worked out anew so often: clocks run on."""

_ChangeToken = tuple[int, ...]


@dataclass(frozen=True)
class View:
    """A cook as it stands, what it asks for, and its curve."""

    now: CookNow
    watch: AlertThresholds
    alerts: tuple[Alert, ...]
    curve: Curve
    token: _ChangeToken


class RunningCooks:
    """The cooks of one notebook that somebody looks at; safe to use from any thread."""

    def __init__(self, book: Notebook) -> None:
        self._book = book
        self._kept = KeptReadings(book)
        self._views: dict[tuple[str, str], View] = {}
        self._lock = threading.Lock()

    def view(self, trial: str, cook: str) -> View:
        """Return a cook as it stands. Raises NotebookError when there is none."""
        now = datetime.now(UTC)
        with self._book.reading() as connection:
            token = _change_token(connection)
        # One thread works it out, the others take what it found.
        with self._lock:
            before = self._views.get((trial, cook))
            if before and before.token == token and timedelta(0) <= now - before.now.at < STALE:
                return before
            found = self._fresh(trial, cook, now, token)
            self._views[(trial, cook)] = found
            return found

    def _fresh(self, trial: str, cook: str, now: datetime, token: _ChangeToken) -> View:
        whole = self._book.get(Trial, trial)
        state = cook_now(
            self._book, whole, self._book.get(Cook, cook, trial=trial), self._kept, now
        )
        watch = watch_of(self._book, trial, cook)
        return View(state, watch, alerts_of(state, watch), curve_of(state), token)


def _change_token(connection: Connection) -> _ChangeToken:
    """Return a change token: the newest revision and reading ids."""
    newest = (
        func.max(REVISION.c.id),
        func.max(READING_BLOCK.c.id),
        func.max(LOOSE_READING.c.id),
        func.max(SETTING.c.changed_at),
    )
    found = (connection.scalar(select(one)) for one in newest)
    return tuple(
        int(one.timestamp() * 1000) if isinstance(one, datetime) else int(one or 0) for one in found
    )
