"""What is no fault in a record but leaves a value open: things in sums that nobody weighed."""

from collections.abc import Iterator, Sequence
from difflib import get_close_matches

import numpy as np
from numpy.typing import NDArray

from fairsmoke.messages.message import N_, Listed, Message
from fairsmoke.trial.record_parts import RecordParts
from fairsmoke.trial.weighing import SHARED_KINDS, MeatState, Part, PartKind

_Key = tuple[str, str]
"""(piece or "", part): whose part it is, and its text."""

_TARE = (PartKind.TRAY, PartKind.WRAP)


def remarks_of(record: RecordParts) -> Iterator[Message]:
    """Yield each tray and wrap that lay on a scale with meat and leaves that meat's mass open."""
    sums = [
        {_key(weighing.piece, part): part for part in weighing.sum} for weighing in record.weighings
    ]
    estimated = [
        {_key(estimate.piece, estimate.part): estimate.part} for estimate in record.estimates
    ]
    said = [*sums, *estimated]
    names = list(dict.fromkeys(key for one in said for key in one))
    called = {piece.id: piece.name for piece in record.pieces}
    is_open = dict(zip(names, _open(names, said), strict=True))
    parts = {key: part for one in said for key, part in one.items()}
    settled = [parts[key] for key in names if parts[key].kind in _TARE and not is_open[key]]
    for key in names:
        if parts[key].kind not in _TARE or not is_open[key]:
            continue
        spoilt = {
            f"{part.text} of {other[0]}": N_(
                "%(part)s of %(piece)s", part=part.words, piece=called.get(other[0], other[0])
            )
            for one in sums
            if key in one
            for other, part in one.items()
            if part.kind is PartKind.MEAT and is_open[other]
        }
        if spoilt:
            what: Message = parts[key].words
            if key[0]:
                piece = called.get(key[0], key[0])
                what = N_("%(part)s of %(piece)s", part=what, piece=piece)
            yield _remark(what, Listed(list(spoilt.values())), _meant(key[1], settled))


def _remark(what: Message, spoilt: Listed, meant: Part | None) -> Message:
    if meant is None:
        return N_(
            "the %(part)s was never weighed, so the %(spoilt)s stays open; weigh it, or estimate "
            "it",
            part=what,
            spoilt=spoilt,
        )
    return N_(
        "the %(part)s was never weighed, so the %(spoilt)s stays open; weigh it, or estimate it. "
        "Was the %(meant)s meant? Then correct the name",
        part=what,
        spoilt=spoilt,
        meant=meant.words,
    )


def _meant(name: str, settled: Sequence[Part]) -> Part | None:
    called = {part.text: part for part in settled}
    like = get_close_matches(name, list(called), n=1, cutoff=0.8)
    return called[like[0]] if like else None


def _key(piece: str | None, part: Part) -> _Key:
    return ("" if part.kind in SHARED_KINDS else piece or "", part.text)


def _open(names: Sequence[_Key], said: Sequence[dict[_Key, Part]]) -> NDArray[np.bool_]:
    """Tell which masses (n,) the sums leave open: those outside the space of their rows."""
    place = {name: at for at, name in enumerate(names)}
    rows = np.zeros((len(said), len(names)))
    for row, one in zip(rows, said, strict=True):
        row[[place[key] for key in one]] = 1.0
    both = [_conserved(piece, place) for piece in dict.fromkeys(piece for piece, _ in names)]
    rows = np.vstack([rows, *(row for row in both if row is not None)])
    if not rows.size:
        return np.zeros(len(names), dtype=np.bool_)
    _, sizes, turned = np.linalg.svd(rows)
    free = turned[int(np.sum(sizes > 1e-9 * sizes[0])) :]
    return np.asarray(np.any(np.abs(free) > 1e-9, axis=0), dtype=np.bool_)


def _conserved(piece: str, place: dict[_Key, int]) -> NDArray[np.float64] | None:
    """Return bought - trimmed - trim = 0 for a piece of which all are named."""
    bought, trimmed = ((piece, f"{s} meat") for s in (MeatState.BOUGHT, MeatState.TRIMMED))
    trims = [key for key in place if key[0] == piece and key[1].endswith(PartKind.TRIM)]
    if not piece or not trims or bought not in place or trimmed not in place:
        return None
    row = np.zeros(len(place))
    row[place[bought]] = 1.0
    row[[place[key] for key in (trimmed, *trims)]] = -1.0
    return row
