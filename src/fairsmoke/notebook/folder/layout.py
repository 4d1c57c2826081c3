"""Which files a folder has, what stands in each, and which record belongs where."""

from collections.abc import Mapping
from typing import Any

from fairsmoke.notebook.kinds import KINDS, Kind
from fairsmoke.trial.base import Record

README = "README.txt"
CHECKSUMS = "checksums.txt"
KITCHEN_FILE = "kitchen.yaml"
HISTORY_FILE = "history.yaml"
TRIAL_FILE = "trial.yaml"
PIECES_FILE = "pieces.yaml"
SOURCES_FILE = "sources.yaml"
PLAN_FILE = "plan.yaml"
REGISTRATION_FILE = "registration.yaml"
REGISTERED_FILE = "registered-plan.json"
"""The registered plan itself: its SHA-256 is the digest of the registration."""
PHOTOS_FILE = "photos.yaml"
PHOTOS = "photos"
COOKS = "cooks"
READINGS = "readings"
HIDDEN = ".struck"
"""Stands before ``.csv`` of readings whose source or cook was struck out."""

FIRST_LINE = "Fairsmoke folder, form 1"
"""How README.txt of an exported folder begins."""

README_TEXT = f"""{FIRST_LINE}

This folder was written by Fairsmoke from a notebook, and reads back as the same notebook.
All files but the photos are UTF-8 text; quantities carry their unit, times their offset from UTC.

kitchen.yaml              whose record it is; cookers, scales, probes, tasters, known file layouts
<trial>/trial.yaml        the question: what differs, the shared protocol, the arms, the measures
<trial>/pieces.yaml       the pieces of meat, and what was weighed or measured outside a cook
<trial>/cooks/*.yaml      one cook each: where the probes were, what was done when, weighings,
                          estimates, samples, ballots, figures, and what was left out and why
<trial>/readings/*/*.csv  what each probe read in each cook, as the logger wrote it
                          (.struck.csv: struck out, kept for the record)
<trial>/sources.yaml      the logger files that the readings came from
<trial>/plan.yaml         what was at hand, and who was to get what, if that was planned
<trial>/registration.yaml when the plan was frozen, its SHA-256, and later amendments, if it was
<trial>/registered-plan.json the plan as frozen, to the byte: sha256sum shows its SHA-256
<trial>/photos.yaml       the photos of events: which file of <trial>/photos/ belongs to which
history.yaml              every state that each record had: when, by whom and why it was changed
checksums.txt             SHA-256 of every file, to tell what was changed by hand since

docs/recording-by-hand.md of Fairsmoke says how to write such a folder by hand.
"""

KITCHEN_KEYS: Mapping[str, Kind] = {
    KINDS[name].plural: KINDS[name]
    for name in ("kitchen", "cooker", "scale", "probe", "taster", "known_layout")
}
"""The keys of kitchen.yaml."""

COOK_KEYS: Mapping[str, Kind] = {
    KINDS[name].plural: KINDS[name]
    for name in (
        "placement",
        "event",
        "weighing",
        "estimate",
        "sample",
        "ballot",
        "figure",
        "exclusion",
    )
}
"""The keys of a cook's file beside ``cook`` itself."""

PIECES_KEYS: Mapping[str, Kind] = {"pieces": KINDS["piece"]} | {
    key: kind
    for key, kind in COOK_KEYS.items()
    if kind.name not in ("placement", "event", "ballot")
}
"""The keys of pieces.yaml: the pieces, and what belongs to no cook."""

NUMBERED = frozenset(kind.name for kind in COOK_KEYS.values())
"""Kinds whose records get a handle numbered from their cook when none is written."""


def cook_of(kind: Kind, record: Record, cook_of_piece: Mapping[str, str | None]) -> str | None:
    """Return in which cook's file a record stands; None for pieces.yaml.

    A record says its cook itself, or stands with its piece when its kind has no cook.
    """
    if "cook" in kind.model.model_fields:
        own: Any = getattr(record, "cook", None)
        return None if own is None else str(own)
    return cook_of_piece.get(str(getattr(record, "piece", None)))
