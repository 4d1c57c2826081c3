"""Set up a trial in a notebook from the answers, with what would spoil it."""

from dataclasses import dataclass

from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, InputField, Listed, Message
from fairsmoke.notebook import Notebook
from fairsmoke.planning.asked import TrialAnswers, plan_of, trial_of
from fairsmoke.planning.remarks import Remark, equal_arms, remarks_of
from fairsmoke.trial.base import Record
from fairsmoke.trial.cook import Cooker
from fairsmoke.trial.plan import Plan
from fairsmoke.trial.question import Trial

_MAY_DIFFER = (
    "pit",
    "humidity",
    "wrap",
    "wrap_at",
    "finish",
    "until",
    "longest",
    "fat",
    "hold",
    "note",
)


@dataclass(frozen=True)
class Asking:
    """A trial as asked: its question, what is at hand, and what would spoil the answer."""

    trial: Trial
    plan: Plan
    cookers: tuple[Cooker, ...]
    remarks: tuple[Remark, ...]


def look_at(asked: TrialAnswers, known: tuple[Cooker, ...] = ()) -> Asking:
    """Return what the answers make, without recording anything; ``known`` cookers are there.

    Raises PlanError when they name a cooker or a position that is not there, JobError when two
    arms are the same.
    """
    trial, plan = trial_of(asked), plan_of(asked, known)
    if equal := equal_arms(trial, plan):
        message = N_(
            "nothing differs between “%(first)s” and “%(second)s”: say what one of them does "
            "otherwise (%(fields)s), or, where the meat is what differs, of which arm each piece "
            "is "
            "(“arm=%(handle)s”)",
            first=equal[0].name,
            second=equal[1].name,
            fields=Listed(
                [Message("%(field)s", {"field": InputField(name)}) for name in _MAY_DIFFER]
            ),
            handle=equal[1].id,
        )
        raise JobError(message, field="arm", code="equal-arms")
    return Asking(trial, plan, asked.cookers, remarks_of(trial, plan))


def ask(notebook: Notebook, asked: TrialAnswers, *, by: str = "", why: str = "") -> Asking:
    """Record the trial and its plan, and the cookers that are new; all of it or nothing.

    Raises JobError when the notebook has that trial and no reason is given to ask it anew, or
    when its plan is registered.
    """
    found = look_at(asked, notebook.list(Cooker))
    handle = found.trial.id
    if handle in {trial.id for trial in notebook.trials()}:
        _check_may_be_asked_anew(notebook, handle, why)
    records: list[Record] = [*found.cookers, found.trial, found.plan]
    notebook.save(records, trial=handle, by=by, why=why)
    return found


def _check_may_be_asked_anew(notebook: Notebook, handle: str, why: str) -> None:
    record = notebook.load_trial(handle, lazy=True)
    if record.registration is not None:
        message = N_(
            "trial “%(trial)s” is registered, so its question stands; tell changes in an "
            "amendment, "
            "or ask a new trial under another title",
            trial=handle,
        )
    elif record.units:
        message = N_(
            "trial “%(trial)s” has been cooked; ask a new one under another title", trial=handle
        )
    elif not why.strip():
        message = N_(
            "trial “%(trial)s” is there already; say why to ask it anew (%(why)s), or give another "
            "title",
            trial=handle,
            why=InputField("why"),
        )
    else:
        return
    raise JobError(message, field="title", kind="conflict")
