"""Simulated results in files: named by what they rest on, written whole, few of them kept."""

import dataclasses
import hashlib
import json
import os
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

import fairsmoke.cooking

SAVE_EACH_S = 5.0
KEPT_FILES = 40
"""Results files in the folder; the oldest beyond them go."""


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


def tidy(folder: Path) -> None:
    """Remove the oldest files beyond `KEPT_FILES`."""
    files = sorted(folder.glob("*.npz"), key=lambda one: one.stat().st_mtime)
    for old in files[:-KEPT_FILES]:
        old.unlink(missing_ok=True)


__all__ = [
    "KEPT_FILES",
    "SAVE_EACH_S",
    "digest_with_model",
    "read_arrays",
    "tidy",
    "usual_folder",
    "write_arrays",
]
