"""Freeze a trial's plan before the first result, and keep later changes as dated amendments."""

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

from fairsmoke.judging.deviations import (
    Deviation,
    change_sentence,
    deviations_of,
    first_result,
    untold_changes,
)
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, InputField
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.corrections import corrected
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.quantity.values import Instant
from fairsmoke.trial.base import Record
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.question import Trial
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.registration import (
    Amendment,
    Registered,
    Registration,
    frozen,
    registered_of,
)


def register(
    notebook: Notebook,
    trial_id: str,
    *,
    by: str = "",
    late: bool = False,
    now: datetime | None = None,
) -> Registration:
    """Freeze the question, measures, worthwhile differences, verdict rule, plan, layout and seed.

    Raises JobError when it is registered already, when what is planned is not drawn yet, or when
    there is a result already: then only with ``late``, and the trial stays exploratory.
    """
    record = notebook.load_trial(trial_id)
    at, zone = now or datetime.now(UTC), time_zone(notebook.kitchen.time_zone)
    if record.registration is not None:
        raise JobError(
            N_(
                "this plan was registered on %(at)s; tell what changes since in an amendment",
                at=Instant(record.registration.at, zone=zone),
            ),
            kind="conflict",
        )
    if record.plan is not None and record.plan.layout is None:
        raise JobError(
            N_("who gets what is not drawn yet; draw it first, then register"), kind="conflict"
        )
    first = first_result(record)
    if first is not None and first < at and not late:
        raise JobError(
            N_(
                "there are results since %(first)s, and a plan is registered before the first; it "
                "can be frozen all the same (%(late)s): the trial then stays exploratory, and "
                "every "
                "report says so",
                first=Instant(first, zone=zone),
                late=InputField("late"),
            ),
            field="late",
        )
    registration = frozen(record.trial, record.plan, at)
    notebook.save(registration, trial=trial_id, by=by)
    return registration


def amend(
    notebook: Notebook,
    trial_id: str,
    *,
    why: str,
    what: str = "",
    changes: Mapping[str, str] | None = None,
    by: str = "",
    now: datetime | None = None,
) -> Amendment:
    """Add a dated amendment that tells everything in which the trial now differs from its plan.

    ``changes`` are fields of the trial to be changed with it, as in a file. ``what`` is needed
    only where nothing of the plan changed. Raises JobError when there is nothing to tell.
    """
    if not why.strip():
        raise JobError(
            N_(
                "say why the plan is changed (%(why)s); every report shows it",
                why=InputField("why"),
            ),
            field="why",
        )
    record = notebook.load_trial(trial_id, lazy=True)
    registration = _registration(record)
    trial = _changed(notebook, record.trial, changes or {})
    registered = registered_of(registration.plan)
    untold = untold_changes(registered, Registered(trial, record.plan), registration.amendments)
    if not untold and not what.strip():
        raise JobError(
            N_(
                "nothing differs from the registered plan and its amendments; change the trial "
                "first, or say in words what is done otherwise (%(what)s)",
                what=InputField("what"),
            ),
            field="what",
        )
    said = " ".join([what.strip(), *(str(change_sentence(one)) for one in untold)]).strip()
    amendment = Amendment(at=now or datetime.now(UTC), what=said, why=why, changes=untold)
    later = registration.model_copy(update={"amendments": (*registration.amendments, amendment)})
    records: list[Record] = [trial, later]
    notebook.save(records, trial=trial_id, by=by, why=why)
    return amendment


def _registration(record: TrialRecord) -> Registration:
    if record.registration is None:
        raise JobError(
            N_(
                "trial “%(trial)s” is not registered, so there is no plan to amend; just change "
                "it, or register it",
                trial=record.trial.id,
            ),
            kind="conflict",
        )
    return record.registration


def _changed(notebook: Notebook, trial: Trial, changes: Mapping[str, str]) -> Trial:
    if not changes:
        return trial
    key = KINDS["trial"].key("", trial.id)
    zone = time_zone(notebook.kitchen.time_zone)
    found = corrected(key, trial, _read(changes), zone)
    assert isinstance(found, Trial)
    return found


def _read(changes: Mapping[str, str]) -> dict[str, object]:
    """Read what is written as YAML, so that nested fields can be given on one line."""
    from fairsmoke.notebook.errors import FolderProblem
    from fairsmoke.notebook.folder.yaml_text import read_yaml

    found: dict[str, object] = {}
    for field, text in changes.items():
        problems: list[FolderProblem] = []
        marked = read_yaml(f"value: {text}".encode(), field, problems)
        if marked is None or problems or "value" not in marked.value:
            message = N_(
                "%(field)s: “%(said)s” cannot be read; write it as in a file",
                field=field,
                said=text,
            )
            raise JobError(message, field=field)
        found[field] = marked.value["value"]
    return found


def deviations(notebook: Notebook, trial_id: str) -> tuple[Deviation, ...]:
    """Return what differs from the registered plan so far."""
    return deviations_of(notebook.load_trial(trial_id))


def write_registered(notebook: Notebook, trial_id: str, path: Path) -> str:
    """Write the registered plan, to the byte, and return its SHA-256.

    ``sha256sum`` of the file shows the same. Raises JobError when nothing is registered or the
    file is there already.
    """
    registration = _registration(notebook.load_trial(trial_id, lazy=True))
    if path.exists():
        raise JobError(N_("%(file)s is there already; give another name", file=str(path)))
    path.write_bytes(registration.plan.encode())
    return registration.digest
