"""What was worked out for a page and is kept in a folder under its key."""

import json
import shutil
from functools import lru_cache
from pathlib import Path
from typing import Any

from fairsmoke.answers.what_if import KEPT_FOLDERS


def read_kept(path: Path) -> Any:
    """Return the plain data of a file; None for one that is not there, is damaged, or cannot be."""
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None


@lru_cache(maxsize=16)
def _unchanged(path: Path) -> Any:
    return json.loads(path.read_text(encoding="utf-8"))


def read_for_good(path: Path) -> Any:
    """Return the plain data of a file that never changes, read once; not to be changed by anyone.

    None for one that is not there, is damaged, or cannot be.
    """
    try:
        return _unchanged(path)
    except (OSError, ValueError):
        return None


def newest(folder: Path, most: int) -> list[Path]:
    """Return the folders in a folder that were last asked for, the newest first."""
    if not folder.is_dir():
        return []
    return sorted(folder.iterdir(), key=lambda one: one.stat().st_mtime, reverse=True)[:most]


def tidy(folder: Path) -> None:
    """Keep only the newest folders in a folder."""
    places = sorted(folder.iterdir(), key=lambda one: one.stat().st_mtime)
    for old in places[:-KEPT_FOLDERS]:
        shutil.rmtree(old, ignore_errors=True)
