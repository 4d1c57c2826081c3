"""A notebook of the invented trial whose last night is running now, to look at the live screens."""

import tempfile
from datetime import datetime, timedelta
from pathlib import Path

from fairsmoke.answers.demonstration import answer_for
from fairsmoke.arriving.take_in import take_in
from fairsmoke.demo import DemoTrial, demo_trial
from fairsmoke.demo.scenario import KITCHEN
from fairsmoke.demo.tonight import as_of, moved
from fairsmoke.messages.errors import JobError
from fairsmoke.notebook import Notebook
from fairsmoke.trial.record import TrialRecord

LIT_AGO = timedelta(hours=11, minutes=20)
"""How long ago the fire was lit: one shoulder of the demo is wrapped by then, none is off."""


def make_tonight(path: Path, now: datetime, *, lit_ago: timedelta = LIT_AGO) -> str:
    """Make that notebook and return its trial's handle.

    Raises JobError when there is something already, or the night does not last that long.
    """
    if path.exists():
        raise JobError(f"{path} exists already; name another, or remove it first")
    whole = _with_readings(demo_trial())
    last = whole.cooks[-1]
    assert last.ends is not None
    if not timedelta() <= lit_ago < last.ends - last.starts:
        raise JobError(f"the invented night lasts {last.ends - last.starts}, not {lit_ago}")
    # People note whole minutes.
    lit = (now - lit_ago).replace(second=0, microsecond=0)
    record = as_of(moved(whole, lit - last.starts), now)
    path.parent.mkdir(parents=True, exist_ok=True)
    with Notebook.create(path, KITCHEN) as notebook:
        notebook.save_trial(record)
    return record.trial.id


def _with_readings(demo: DemoTrial) -> TrialRecord:
    """Return the invented trial with what its loggers wrote."""
    trial, ended = demo.record.trial.id, demo.record.cooks[-1].ends
    with (
        tempfile.TemporaryDirectory() as folder,
        Notebook.create(Path(folder) / "whole.db", demo.kitchen) as notebook,
    ):
        notebook.save_trial(demo.record)
        for file in demo.logger_files:
            answer = answer_for(file)
            take_in(notebook, trial, file.cook_id, file.content, file.file_name, answer, now=ended)
        return notebook.load_trial(trial)
