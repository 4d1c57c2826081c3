"""What the kinds of record are called in messages, and what animals are called in files."""

from typing import Literal

from fairsmoke.messages.message import N_, Message, Words

Species = Literal["beef", "pork", "lamb", "turkey", "chicken", "other"]
"""Stands here, where nothing else is loaded, for the command line reads it before anything."""

NOUNS = {
    "arm": N_("arm"),
    "ballot": N_("ballot"),
    "cook": N_("cook"),
    "cooker": N_("cooker"),
    "estimate": N_("estimate"),
    "event": N_("event"),
    "exclusion": N_("exclusion"),
    "figure": N_("figure"),
    "kitchen": N_("kitchen"),
    "known_layout": N_("known_layout"),
    "measure": N_("measure"),
    "piece": N_("piece"),
    "placement": N_("placement"),
    "plan": N_("plan"),
    "position": N_("position"),
    "probe": N_("probe"),
    "registration": N_("registration"),
    "sample": N_("sample"),
    "scale": N_("scale"),
    "source": N_("source"),
    "taster": N_("taster"),
    "trial": N_("trial"),
    "weighing": N_("weighing"),
}


def noun(kind: str) -> Words:
    """Return what a kind of record is called, for a message."""
    return NOUNS.get(kind, kind)


def named(kind: str, handle: str) -> Message:
    """Return a record by its kind and handle: "piece 'flat-1'"."""
    return Message("%(kind)s '%(handle)s'", {"kind": noun(kind), "handle": handle})
