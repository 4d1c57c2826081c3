"""What must be said beside an answer, as data: a kind, names and numbers."""

from dataclasses import dataclass
from enum import StrEnum


class CaveatKind(StrEnum):
    """What a remark is about; `names` and `numbers` of the remark are said with each."""

    SPREAD_STATED = "spread stated"
    """The person's own spread was used. numbers: one sd, own size."""
    SPREAD_PAST = "spread from past trials"
    """The notebook's own past narrowed a published spread. names: trials; numbers: one sd."""
    SPREAD_PUBLISHED = "spread published"
    """A published or guessed spread was used. numbers: one sd, own size."""
    SPREAD_SEEN = "spread seen"
    """No spread was known: this trial's own repeats had to tell it. numbers: one sd, freedom."""
    NO_SPREAD = "no spread"
    """No spread is known from anywhere, so one pair cannot be judged."""
    POSITION_UNKNOWN = "position unknown"
    """Where pieces stood was not recorded. names: pieces."""
    ANIMAL_UNKNOWN = "animal unknown"
    """Arms were given by hand and animals not recorded. names: pieces."""
    NOT_CODED = "not coded"
    """Samples carried no code, or it was not recorded. names: samples."""
    SERVING_UNKNOWN = "serving order unknown"
    """The order of serving was not recorded. numbers: ballots without it, ballots."""
    SERVED_FIRST = "served first"
    """An arm was served first more often. names: arm; numbers: times first, ballots."""
    PLATED_KNOWING = "plated by one who knew"
    """Who plated knew the arms, or it was not recorded. names: cooks."""
    FEW_TASTERS = "few tasters"
    """So few tasters that their own likings may be the answer. numbers: tasters."""
    PREFERRED = "preferred"
    """Which arm tasters chose. names: two arms; numbers: tasters for the first, for the second, for
    neither, p, and the interval of the first's share among those who chose."""
    TOLD_APART = "told apart"
    """Who found the odd one of three. names: two arms; numbers: right, answers, p, tasters."""
    CHOICES_UNREAD = "choices unread"
    """Choices that say nothing, as what was presented is not known. numbers: those, ballots."""
    WHOLE_COOKS = "whole cooks"
    """Arms were given to whole cooks: cooks, not pieces, are what is repeated. numbers: cooks."""
    ODD_PIECE = "odd piece"
    """A piece lies so far out that it is probably odd. names: piece; numbers: probability."""
    CENSORED = "censored"
    """Pieces that did not reach the mark: at least that long. names: pieces."""
    REACHED_BEFORE = "reached before"
    """Pieces at the mark when they were first read: at most that long. names: pieces."""
    SEVERAL_COMPARISONS = "several comparisons"
    """With so many comparisons one may settle wrongly by chance. numbers: comparisons, chance."""
    SCALE_UNKNOWN = "scale's error unknown"
    """No error or repeatability of a scale was stated, and one is assumed. names: scales."""
    FIGURE_UNKNOWN = "figure's uncertainty unknown"
    """Figures came without an uncertainty, and one is assumed. numbers: one sd, own size."""
    SHARED_ESTIMATE = "shared estimate"
    """One estimate was used for several pieces: one unknown. names: part; numbers: pieces."""


@dataclass(frozen=True)
class Caveat:
    """One remark: its kind, with the names and numbers that the kind says."""

    kind: CaveatKind
    names: tuple[str, ...] = ()
    numbers: tuple[float, ...] = ()
