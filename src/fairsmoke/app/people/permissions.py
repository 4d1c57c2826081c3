"""Who may do what: the one table."""

from enum import StrEnum


class Role(StrEnum):
    """What somebody is here for."""

    COOK = "cook"
    """Runs the trial."""
    HELPER = "helper"
    """Lends a hand at the pit."""
    TASTER = "taster"
    """Tastes, and must not know which sample is which."""


class May(StrEnum):
    """Something that may be allowed."""

    SEE_TRIALS = "see trials"
    """Trials, cooks, events, weighings, readings: all that shows which piece had which arm."""
    RECORD = "record"
    """Events, readings, weighings, notes, photos; and undo one's own."""
    MEND = "mend"
    """Correct and strike out what anyone recorded."""
    SET_UP = "set up"
    """Trials, cooks, cookers, pieces, probes, devices, how readings come in."""
    SEE_FINDINGS = "see findings"
    MANAGE_PEOPLE = "manage people"
    TASTE = "taste"
    """Fill in one's own ballots."""


# A taster never gets SEE_TRIALS: whatever names a piece's arm, position or code gives the key away.
ALLOWED: dict[Role, frozenset[May]] = {
    Role.COOK: frozenset(May) - {May.TASTE},
    Role.HELPER: frozenset({May.SEE_TRIALS, May.RECORD}),
    Role.TASTER: frozenset({May.TASTE}),
}
"""What each role may. Nobody who sees the trial also tastes."""


def may(role: Role, what: May) -> bool:
    """Tell whether a role may do something."""
    return what in ALLOWED[role]
