"""What a notebook's earlier trials taught of spreads, each worked out once and kept."""

from datetime import UTC, datetime

from fairsmoke.answers.earlier import earlier_trials, past_digests
from fairsmoke.answers.store import ResultKey, Store, StoredResult, program_digest, subject_of
from fairsmoke.judging.judge import judge
from fairsmoke.judging.past import Taught, taught_by
from fairsmoke.messages.errors import is_for_a_person
from fairsmoke.notebook import Notebook

ROOMS = ("judging", "weighing", "design", "trial", "quantity")


def past_of(book: Notebook, trial: str, store: Store | None = None) -> tuple[Taught, ...]:
    """Return what the trials before this one taught; what is in the store is not judged again."""
    found: list[Taught] = []
    for earlier, digest in past_digests(book, earlier_trials(book, trial)):
        if store is None:
            found += _taught(book, earlier)
            continue
        key = ResultKey.of("taught", {"trial": earlier, "record": digest}, program_digest(*ROOMS))
        found += _kept(store.ask(key, subject=subject_of(book.path, earlier)), book, earlier)
    return tuple(found)


def _kept(entry: StoredResult, book: Notebook, trial: str) -> tuple[Taught, ...]:
    content = entry.get("taught")
    if content is None:
        taught = _taught(book, trial)
        entry.put("taught", [one.to_json() for one in taught])
        return taught
    return tuple(map(Taught.from_json, content))


def _taught(book: Notebook, trial: str) -> tuple[Taught, ...]:
    """Judge a trial without any past, so that what each teaches is counted once."""
    try:
        return taught_by(judge(book.load_trial(trial), made=datetime.now(UTC)))
    except ValueError as error:
        # Not cooked yet, or its record does not fit together: it teaches nothing.
        if not is_for_a_person(error):
            raise
        return ()
