"""Which trials of a notebook came before one, and in what state they are."""

from fairsmoke.notebook import Notebook
from fairsmoke.notebook.trial_state import TrialState, trial_digest, trial_state
from fairsmoke.trial.cook import Cook


def earlier_trials(book: Notebook, trial: str) -> tuple[str, ...]:
    """Return the other trials that began before this one; all that were cooked if it was not."""
    begins = {
        handle: min(cook.starts for cook in cooks)
        for handle, cooks in book.list_by_trial(Cook).items()
        if cooks
    }
    own = begins.pop(trial, None)
    return tuple(sorted(one for one, at in begins.items() if own is None or at < own))


def past_digests(book: Notebook, trials: tuple[str, ...]) -> list[list[str]]:
    """Return the digest of the record of each trial, for the key of what rests on them."""
    with book.reading() as connection:
        return [[trial, trial_digest(connection, trial)] for trial in trials]


def state_with_past(book: Notebook, trial: str) -> TrialState:
    """Return the state of a trial and of those before it, on which its finding rests."""
    before = earlier_trials(book, trial)
    with book.reading() as connection:
        return trial_state(connection, trial, before)
