"""Simulate arms side by side: shows how far it is, can be stopped, and goes on where it stopped."""

import dataclasses
import hashlib
import json
import os
from collections.abc import Callable
from pathlib import Path
from time import monotonic
from typing import Any
from zipfile import BadZipFile

import numpy as np

import fairsmoke.cooking
from fairsmoke.cooking.side_by_side import SideBySide, Simulated, prepare, run_side_by_side

SAVE_EACH_S = 5.0
KEPT_FILES = 40
"""Results files in the folder; the oldest beyond them go."""

Progress = Callable[[int, int], None]
"""Told how many cooks are done and how many there are."""


def simulate_side_by_side(
    plan: SideBySide,
    folder: Path | None = None,
    *,
    workers: int | None = None,
    progress: Progress | None = None,
    afresh: bool = False,
) -> Simulated:
    """Run a plan on all cores and return what came of it; `complete` tells whether it was stopped.

    What has been run is kept in a small file of `folder`, named by a digest of all inputs and of
    the model itself, every few seconds and on Ctrl-C; the same plan goes on from there, and one
    that is done comes back at once. `afresh` begins anew. Without a folder nothing is kept.
    Raises BodyError, CookerError or ProtocolError for a plan that cannot be,
    or whose cooks mostly never end.
    """
    found = prepare(plan)
    file = None if folder is None else folder / f"{digest_of(plan)[:24]}.npz"
    if file is not None and not afresh:
        _load(found, file)
    before, saved = found.done, monotonic()

    def told(so_far: Simulated) -> bool:
        nonlocal saved
        if progress is not None:
            progress(so_far.done, so_far.cooks)
        if file is not None and monotonic() - saved > SAVE_EACH_S:
            _save(so_far, file)
            saved = monotonic()
        return True

    try:
        run_side_by_side(found, workers=workers, told=told)
    finally:
        if file is not None and found.done > before:
            _save(found, file)
            _tidy(file.parent)
    if found.complete:
        found.refuse_endless()
    return found


def usual_folder() -> Path:
    """Return where results are kept when nobody says: the user's cache."""
    cache = os.environ.get("XDG_CACHE_HOME")
    return (Path(cache) if cache else Path.home() / ".cache") / "fairsmoke" / "simulations"


def digest_of(plan: SideBySide) -> str:
    """Return the digest of everything that the numbers of a plan rest on, the model included.

    Names, titles and the order of pieces' names do not count; handles do.
    """
    content = {
        "arms": [[arm.id, arm.protocol.model_dump(mode="json")] for arm in plan.arms],
        "pieces": [
            [one.id, _plain(one.piece), _plain(one.conditions)]  #
            for one in plan.pieces
        ],
        "members": plan.members,
        "seed": plan.seed,
        "whole_body": plan.whole_body,
        "constants": _plain(plan.constants),
        "control": None if plan.control is None else _plain(plan.control),
        "model": _model_digest(),
    }
    written = json.dumps(content, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(written.encode()).hexdigest()


def _plain(value: Any) -> Any:
    return dataclasses.asdict(value)


def _model_digest() -> str:
    """Digest the code of the model: after a change of it, old results are not gone on from."""
    own = Path(fairsmoke.cooking.__file__).parent
    digest = hashlib.sha256(np.__version__.encode())
    for room in (own, own.parent / "physics"):
        for file in sorted(room.glob("*.py")):
            digest.update(file.name.encode() + b"\0" + file.read_bytes())
    return digest.hexdigest()


def _save(found: Simulated, file: Path) -> None:
    """Write the record whole or not at all."""
    content = {
        f"{arm}/{piece}/{name}": array
        for (arm, piece), one in found.cooked.items()
        for name, array in one.arrays().items()
    }
    file.parent.mkdir(parents=True, exist_ok=True)
    beside = file.with_name(f"{file.stem}.{os.getpid()}.part.npz")
    np.savez_compressed(beside, allow_pickle=False, **content)
    beside.replace(file)


def _load(found: Simulated, file: Path) -> None:
    """Fill the record from a file; one that is not there, or is damaged, is as good as none."""
    if not file.exists():
        return
    try:
        with file.open("rb") as opened, np.load(opened, allow_pickle=False) as content:
            came = {name: content[name] for name in content.files}
    except (OSError, ValueError, EOFError, KeyError, BadZipFile):
        return
    for (arm, piece), one in found.cooked.items():
        arrays = one.arrays()
        names = {name: f"{arm}/{piece}/{name}" for name in arrays}
        if any(
            came.get(key) is None or came[key].shape != arrays[name].shape
            for name, key in names.items()
        ):
            continue
        for name, key in names.items():
            arrays[name][...] = came[key]


def _tidy(folder: Path) -> None:
    files = sorted(folder.glob("*.npz"), key=lambda one: one.stat().st_mtime)
    for old in files[:-KEPT_FILES]:
        old.unlink(missing_ok=True)


__all__ = ["digest_of", "simulate_side_by_side", "usual_folder"]
