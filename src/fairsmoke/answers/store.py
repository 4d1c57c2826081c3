"""Simulated results in files: named by what they rest on, written whole, few of them kept."""

import dataclasses
import hashlib
import json
import os
import zlib
from collections.abc import Callable, Mapping
from pathlib import Path
from time import monotonic
from typing import Any, TypeVar
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

import fairsmoke.cooking

_Record = TypeVar("_Record")

SAVE_EACH_S = 5.0
KEPT_FILES = 40
"""Results files in the folder; the oldest beyond them go."""

Progress = Callable[[int, int], None]
"""Told how many are done and how many there are."""


def usual_folder() -> Path:
    """Return where results are kept when nobody says: the user's cache."""
    cache = os.environ.get("XDG_CACHE_HOME")
    return (Path(cache) if cache else Path.home() / ".cache") / "fairsmoke" / "simulations"


def digest_with_model(content: Mapping[str, Any]) -> str:
    """Return the digest of everything that numbers rest on, the model's own code included.

    Dataclasses may stand at the first level; everything else is what JSON can say.
    """
    plain = {name: _plain(value) for name, value in content.items()} | {"model": _model_digest()}
    written = json.dumps(plain, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(written.encode()).hexdigest()


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return dataclasses.asdict(value)
    return [_plain(one) for one in value] if isinstance(value, list | tuple) else value


def _model_digest() -> str:
    """Digest the code of the model: after a change of it, old results are not gone on from."""
    own = Path(fairsmoke.cooking.__file__).parent
    digest = hashlib.sha256(np.__version__.encode())
    for room in (own, own.parent / "physics"):
        for file in sorted(room.glob("*.py")):
            digest.update(file.name.encode() + b"\0" + file.read_bytes())
    return digest.hexdigest()


def write_arrays(file: Path, arrays: Mapping[str, NDArray[Any]]) -> None:
    """Write arrays whole or not at all."""
    file.parent.mkdir(parents=True, exist_ok=True)
    beside = file.with_name(f"{file.stem}.{os.getpid()}.part.npz")
    np.savez_compressed(beside, allow_pickle=False, **arrays)
    beside.replace(file)


def read_arrays(file: Path) -> dict[str, NDArray[Any]]:
    """Return the arrays of a file; one that is not there, or is damaged, is as good as none."""
    if not file.exists():
        return {}
    try:
        with file.open("rb") as opened, np.load(opened, allow_pickle=False) as content:
            return {name: content[name] for name in content.files}
    except (OSError, ValueError, EOFError, KeyError, TypeError, NotImplementedError):
        return {}
    except (BadZipFile, zlib.error):
        return {}


def go_on(
    found: _Record,
    file: Path | None,
    *,
    run: Callable[[Callable[[_Record], bool]], object],
    count: Callable[[_Record], tuple[int, int]],
    load: Callable[[_Record, Path], None],
    save: Callable[[_Record, Path], None],
    progress: Progress | None = None,
    afresh: bool = False,
) -> None:
    """Fill a record: from its file what was run before, and by `run` the rest.

    `run` is given what to call as more of the record is filled. `count` says how many of it are
    done, and of how many. The record is saved every `SAVE_EACH_S` and, whatever ends the run, at
    its end. `afresh` leaves what the file has; without a file nothing is kept.
    """
    if file is not None and not afresh:
        load(found, file)
    before, saved = count(found)[0], monotonic()

    def told(so_far: _Record) -> bool:
        nonlocal saved
        if progress is not None:
            progress(*count(so_far))
        if file is not None and monotonic() - saved > SAVE_EACH_S:
            save(so_far, file)
            saved = monotonic()
        return True

    try:
        run(told)
    finally:
        if file is not None and count(found)[0] > before:
            save(found, file)
            tidy(file.parent)


def tidy(folder: Path) -> None:
    """Remove the oldest files beyond `KEPT_FILES`."""
    files = sorted(folder.glob("*.npz"), key=lambda one: one.stat().st_mtime)
    for old in files[:-KEPT_FILES]:
        old.unlink(missing_ok=True)


__all__ = [
    "KEPT_FILES",
    "SAVE_EACH_S",
    "Progress",
    "digest_with_model",
    "go_on",
    "read_arrays",
    "tidy",
    "usual_folder",
    "write_arrays",
]
