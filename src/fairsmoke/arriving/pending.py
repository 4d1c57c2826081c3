"""Files that were sent and are not taken in yet: kept aside until a person has confirmed them."""

import secrets
import shutil
import tempfile
import weakref
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

MOST = 8
LASTS = timedelta(hours=2)


@dataclass(frozen=True)
class Pending:
    """A file that waits: where its bytes are, whose it is, and for which cook.

    ``watched`` when it lies in the watched folder and shall be read as it grows.
    """

    key: str
    path: Path
    name: str
    trial: str
    cook: str
    person: int
    made: datetime
    watched: bool


class PendingFiles:
    """Keeps files aside while the app runs; the oldest makes room."""

    def __init__(self) -> None:
        self._folder: Path | None = None
        self._kept: dict[str, Pending] = {}

    def keep(self, content: bytes, name: str, trial: str, cook: str, person: int) -> Pending:
        """Keep a file that was sent."""
        if self._folder is None:
            self._folder = Path(tempfile.mkdtemp(prefix="fairsmoke-"))
            weakref.finalize(self, shutil.rmtree, self._folder, ignore_errors=True)
        key = secrets.token_urlsafe(12)
        path = self._folder / key
        path.write_bytes(content)
        return self._add(Pending(key, path, name, trial, cook, person, _now(), watched=False))

    def watch(self, path: Path, trial: str, cook: str, person: int) -> Pending:
        """Keep in mind a file of the watched folder."""
        key = secrets.token_urlsafe(12)
        return self._add(Pending(key, path, path.name, trial, cook, person, _now(), watched=True))

    def find(self, key: str, person: int) -> Pending | None:
        """Return a file that this person sent, None when it is no longer kept."""
        found = self._kept.get(key)
        return found if found is not None and found.person == person else None

    def let_go(self, key: str) -> None:
        """Forget a file."""
        gone = self._kept.pop(key, None)
        if gone is not None and not gone.watched:
            gone.path.unlink(missing_ok=True)

    def _add(self, pending: Pending) -> Pending:
        old = [one.key for one in self._kept.values() if _now() - one.made > LASTS]
        old += list(self._kept)[: max(0, len(self._kept) - MOST + 1)]
        for key in dict.fromkeys(old):
            self.let_go(key)
        self._kept[pending.key] = pending
        return pending


def _now() -> datetime:
    return datetime.now(UTC)
