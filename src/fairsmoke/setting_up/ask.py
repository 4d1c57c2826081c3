"""Set up a trial in a notebook from the answers, with what would spoil it."""

from dataclasses import dataclass

from fairsmoke.messages.errors import JobError
from fairsmoke.notebook import Notebook
from fairsmoke.planning.asked import Asked, plan_of, trial_of
from fairsmoke.planning.remarks import Remark, remarks_of
from fairsmoke.trial.base import Record
from fairsmoke.trial.cook import Cooker
from fairsmoke.trial.plan import Plan
from fairsmoke.trial.question import Trial


@dataclass(frozen=True)
class Asking:
    """A trial as asked: its question, what is at hand, and what would spoil the answer."""

    trial: Trial
    plan: Plan
    cookers: tuple[Cooker, ...]
    remarks: tuple[Remark, ...]


def look_at(asked: Asked, known: tuple[Cooker, ...] = ()) -> Asking:
    """Return what the answers make, without recording anything; ``known`` cookers are there.

    Raises PlanError when they name a cooker or a position that is not there.
    """
    trial, plan = trial_of(asked), plan_of(asked, known)
    return Asking(trial, plan, asked.cookers, remarks_of(trial, plan))


def ask(notebook: Notebook, asked: Asked, *, by: str = "", why: str = "") -> Asking:
    """Record the trial and its plan, and the cookers that are new; all of it or nothing.

    Raises JobError when the notebook has that trial and no reason is given to ask it anew, or
    when its plan is registered.
    """
    found = look_at(asked, notebook.list(Cooker))
    handle = found.trial.id
    if handle in {trial.id for trial in notebook.trials()}:
        record = notebook.load_trial(handle, lazy=True)
        if record.registration is not None:
            raise JobError(
                f"trial '{handle}' is registered, so its question stands; tell changes with "
                "'fairsmoke amend', or ask a new trial under another title"
            )
        if record.units:
            raise JobError(f"trial '{handle}' has been cooked; ask a new one under another title")
        if not why.strip():
            raise JobError(
                f"trial '{handle}' is there already; say --why to ask it anew, or give another "
                "title"
            )
    records: list[Record] = [*found.cookers, found.trial, found.plan]
    notebook.save(records, trial=handle, by=by, why=why)
    return found
