"""How a number in physics/ is known: where it is printed, and whether the page was seen."""

from dataclasses import dataclass
from enum import StrEnum


class Seen(StrEnum):
    """What stands behind a number, from best to worst."""

    READ = "read in the source itself"
    SECOND_HAND = "read where another quotes it"
    CODE = "read in public code that implements the source"
    DERIVED = "worked out here from numbers that were read"
    PRACTICE = "common practice, no source"
    MEMORY = "from memory, to be checked before it is cited"
    ASSUMED = "assumed here, to be fitted to experiments"


@dataclass(frozen=True)
class Citation:
    """Where a number stands and how it was seen; `note` says what to beware of."""

    text: str
    seen: Seen
    note: str = ""

    def __str__(self) -> str:
        return f"{self.text} ({self.seen})" + (f"; {self.note}" if self.note else "")
