"""Content-addressed store of results: one cache with one eviction policy for every question.

An entry is named by a digest of what its numbers rest on: the question, the request as JSON, and
the program that computes it. Every file in it carries a digest of its own content in its name and
is written whole or not at all, so whatever is damaged, cut short or odd is as good as not there.

Eviction is least recently used, counted for each owner by themselves: of each question and subject
(a trial of a notebook, say) an owner keeps the last ``KEPT`` entries that they asked for. What
somebody else asks for never pushes out an entry that its owner still keeps.

    store = Store(folder, owner="ann")
    key = ResultKey.of("when", asdict(request), program_digest("planning", "cooking", "physics"))
    entry = store.ask(key, asdict(request), subject=subject_of(notebook, "wrap"))
    if entry.get("result") is None:
        with entry.new_file("chart.svg") as path:
            write_chart(found, path)
        entry.put("document", to_json(sections))
        entry.put("result", result_json(found))  # last: whoever sees it finds the rest
    store.find("when", key.digest)  # by what stands in an address; None for an odd one
    store.asked("when", subject_of(notebook, "wrap"))  # newest first
"""

import contextlib
import hashlib
import json
import os
import re
import secrets
import shutil
import time
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zipfile import BadZipFile

import platformdirs

import fairsmoke

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

KEPT = 40
"""Entries that an owner keeps of one question about one subject."""

MODEL_ROOMS = ("cooking", "physics", "trial")
"""What simulated numbers rest on."""

_DIGEST = re.compile(r"[0-9a-f]{24}")
_NAME = re.compile(r"\w[\w-]*(\.[a-z0-9]+)?", re.ASCII)
_CONTENT = ("*.py", "*.typ", "*.json", "*.csv")
_LEFT_OVER_S = 86_400.0


def usual_folder() -> Path:
    """Return where results are kept when nobody says: the user's cache."""
    return platformdirs.user_cache_path("fairsmoke")


@cache
def program_digest(*rooms: str) -> str:
    """Return the digest of the code and tables in rooms and their sub-packages.

    The versions of the libraries that compute count too. With no room it is of the whole program.
    Raises ValueError for a room that there is not.
    """
    own = Path(fairsmoke.__file__).parent
    digest = hashlib.sha256()
    for library in ("numpy", "scipy", "numba"):
        digest.update(f"{library} {version(library)}\0".encode())
    for root in [own / room for room in rooms] or [own]:
        if not root.is_dir():
            raise ValueError(f"the program has no room {root.name!r}")
        files = {file for pattern in _CONTENT for file in root.rglob(pattern)}
        for file in sorted(files):
            digest.update(f"{file.relative_to(own).as_posix()}\0".encode() + file.read_bytes())
    return digest.hexdigest()


def digest_of(*parts: str) -> str:
    """Return a short digest of texts, 24 hexadecimal digits."""
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()[:24]


def subject_of(notebook: Path, trial: str) -> str:
    """Return what entries about a trial are listed by; other notebooks may have its handle too."""
    return digest_of(str(notebook.resolve()), trial)


@dataclass(frozen=True)
class ResultKey:
    """The name of an entry: its question, such as "when", and the digest of what it rests on."""

    question: str
    digest: str

    @classmethod
    def of(cls, question: str, request: Any, program: str) -> "ResultKey":
        """Return the key of a request, plain JSON data, computed by a program."""
        written = json.dumps(request, sort_keys=True, ensure_ascii=False)
        return cls(question, digest_of(question, written, program))


class StoredResult:
    """The files of one key. Reading never raises for what is missing or damaged: it is None."""

    def __init__(self, key: ResultKey, folder: Path, mark: Path | None = None) -> None:
        self.key = key
        self.folder = folder
        self._mark = mark

    @property
    def request(self) -> Any:
        """What was asked, as plain JSON data; None when it is not kept."""
        return self.get("request")

    def get(self, name: str) -> Any:
        """Return a kept document, plain JSON data, or None."""
        path = self.file(f"{name}.json")
        if path is None:
            return None
        try:
            return json.loads(path.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return None

    def put(self, name: str, content: Any) -> None:
        """Keep a document, plain JSON data, under a name."""
        with self.new_file(f"{name}.json") as path:
            path.write_text(json.dumps(content), encoding="utf-8")

    def arrays(self, name: str) -> "dict[str, NDArray[Any]]":
        """Return kept arrays by name, none when there are none."""
        import numpy as np

        path = self.file(f"{name}.npz")
        if path is None:
            return {}
        try:
            with path.open("rb") as opened, np.load(opened, allow_pickle=False) as content:
                return {one: content[one] for one in content.files}
        except (OSError, ValueError, EOFError, KeyError, TypeError, NotImplementedError):
            return {}
        except (BadZipFile, zlib.error):
            return {}

    def put_arrays(self, name: str, arrays: "Mapping[str, np.ndarray[Any, Any]]") -> None:
        """Keep arrays under a name."""
        import numpy as np

        with self.new_file(f"{name}.npz") as path:
            np.savez_compressed(path, allow_pickle=False, **arrays)

    def file(self, name: str) -> Path | None:
        """Return where a kept file such as "chart.svg" lies, None when it is not whole."""
        for path in self._versions(name):
            with contextlib.suppress(OSError):
                if path.name == _kept_name(name, path):
                    return path
        return None

    @contextlib.contextmanager
    def new_file(self, name: str) -> Iterator[Path]:
        """Give a path to write a file such as "chart.svg" to; it is kept when the block ends well.

        Raises ValueError for a name that is none.
        """
        if not _NAME.fullmatch(name):
            raise ValueError(f"{name!r} cannot be the name of a kept file")
        self.folder.mkdir(parents=True, exist_ok=True)
        if self._mark is not None and not self._mark.exists():
            _touch(self._mark)
        stem, dot, suffix = name.partition(".")
        part = self.folder / f".{stem}.{secrets.token_hex(8)}{dot}{suffix}"
        try:
            yield part
            target = self.folder / _kept_name(name, part)
            part.replace(target)
        finally:
            part.unlink(missing_ok=True)
        # Of two that are written at once each would take the other away: the later one stays.
        own = _order(target)
        for old in self._versions(name):
            if _order(old) < own:
                old.unlink(missing_ok=True)

    def _versions(self, name: str) -> list[Path]:
        """Return what lies there under a name, the newest first."""
        if not _NAME.fullmatch(name):
            return []
        stem, dot, suffix = name.partition(".")
        found = self.folder.glob(f"{stem}.{'[0-9a-f]' * 24}{dot}{suffix}")
        return sorted(found, key=lambda one: _times(one)[0], reverse=True)


def _order(path: Path) -> tuple[int, str]:
    """Return when a file was written, and its name, so that no two stand level; gone is first."""
    try:
        return path.stat().st_mtime_ns, path.name
    except OSError:
        return 0, path.name


class Store:
    """The entries in a folder, as one owner asks for them.

    ``owner`` is the person whose entries are counted together, "" where there is only one. Several
    processes may use a folder at once.
    """

    def __init__(self, folder: Path, owner: str = "") -> None:
        self.folder = folder
        self.owner = owner

    def ask(self, key: ResultKey, request: Any = None, *, subject: str = "") -> StoredResult:
        """Return the entry of a key as one that its owner now keeps, with what was asked in it.

        The owner's least recently used ones of that question and subject beyond ``KEPT`` go.
        """
        folder = self._folder(key)
        mark = folder / "asked" / f"{digest_of(subject)}-{digest_of(self.owner)}"
        _touch(mark)
        entry = StoredResult(key, folder, mark)
        if request is not None and entry.request is None:
            entry.put("request", request)
        self._evict(key.question, mark.name)
        return entry

    def find(self, question: str, digest: str) -> StoredResult | None:
        """Return an entry that somebody keeps, None when there is none or the digest is odd.

        For its owner it counts as used.
        """
        if not _DIGEST.fullmatch(digest):
            return None
        key = ResultKey(question, digest)
        folder = self._folder(key)
        marks = _marks(folder)
        if not marks:
            return None
        for mark in marks:
            if mark.name.endswith(f"-{digest_of(self.owner)}"):
                _use(mark)
        return StoredResult(key, folder)

    def asked(
        self, question: str, subject: str = "", most: int | None = None
    ) -> tuple[StoredResult, ...]:
        """Return what anybody asked of a question about a subject, the newest first."""
        found: dict[Path, float] = {}
        for mark in (self.folder / question).glob(f"*/asked/{digest_of(subject)}-*"):
            entry = mark.parents[1]
            found[entry] = max(found.get(entry, 0.0), _times(mark)[0])
        newest = sorted(found, key=found.__getitem__, reverse=True)[:most]
        return tuple(StoredResult(ResultKey(question, one.name), one) for one in newest)

    def _folder(self, key: ResultKey) -> Path:
        return self.folder / key.question / key.digest

    def _evict(self, question: str, mark_name: str) -> None:
        """Let go of an owner's oldest entries, and of what nobody keeps."""
        home = self.folder / question
        own = sorted(home.glob(f"*/asked/{mark_name}"), key=lambda mark: _times(mark)[1])
        for mark in own[:-KEPT]:
            mark.unlink(missing_ok=True)
            if not _marks(mark.parents[1]):
                shutil.rmtree(mark.parents[1], ignore_errors=True)
        too_old = time.time() - _LEFT_OVER_S
        # What a process left that was killed while it wrote.
        for part in home.glob("*/.*"):
            if _times(part)[0] < too_old:
                part.unlink(missing_ok=True)


def _kept_name(name: str, path: Path) -> str:
    """Return the name of a kept file with the digest of the content that a path has."""
    with path.open("rb") as opened:
        digest = hashlib.file_digest(opened, "sha256").hexdigest()[:24]
    stem, dot, suffix = name.partition(".")
    return f"{stem}.{digest}{dot}{suffix}"


def _marks(folder: Path) -> Sequence[Path]:
    """Return the marks of those who keep an entry: empty files, modified when it was asked for.

    Their time of access is when their owner last used it.
    """
    return list((folder / "asked").glob("*-*"))


def _touch(mark: Path) -> None:
    mark.parent.mkdir(parents=True, exist_ok=True)
    mark.touch()
    # Finer than a touch, so that the order of two requests in one moment is kept.
    now = time.time_ns()
    os.utime(mark, ns=(now, now))


def _use(mark: Path) -> None:
    with contextlib.suppress(OSError):
        os.utime(mark, ns=(time.time_ns(), mark.stat().st_mtime_ns))


def _times(path: Path) -> tuple[float, float]:
    """Return when a file was modified and used, seconds since 1970; zeros when it is gone."""
    try:
        found = path.stat()
    except OSError:
        return 0.0, 0.0
    return found.st_mtime_ns / 1e9, max(found.st_mtime_ns, found.st_atime_ns) / 1e9


__all__ = [
    "KEPT",
    "MODEL_ROOMS",
    "ResultKey",
    "Store",
    "StoredResult",
    "digest_of",
    "program_digest",
    "subject_of",
    "usual_folder",
]
