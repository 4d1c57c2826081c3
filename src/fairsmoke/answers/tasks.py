"""What child processes can do, by name: a question or a chore registers in one line.

A task is a function of what was asked (plain JSON data), of where it is asked (``Context``) and of
what to tell its progress to; it returns plain JSON data. It is named by its place and loaded only
where it runs. KeyboardInterrupt out of it means that it was stopped.
"""

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fairsmoke.answers.store import Store

if TYPE_CHECKING:
    from fairsmoke.notebook import Notebook

FINDINGS, PLANS, SIMULATIONS = "findings", "plans", "simulations"
"""The queues: what pages wait for, the quick work of a plan, and what cooks in the simulator."""

TASKS = {
    "finding": (FINDINGS, "fairsmoke.answers.finding:finding_task"),
    "report": (FINDINGS, "fairsmoke.answers.finding:report_task"),
    "data": (FINDINGS, "fairsmoke.answers.finding:data_task"),
    "look-at-plan": (PLANS, "fairsmoke.answers.plan_tasks:look_at_plan_task"),
    "draw": (PLANS, "fairsmoke.answers.plan_tasks:draw_task"),
    "deviations": (PLANS, "fairsmoke.answers.plan_tasks:deviations_task"),
    "how-many": (PLANS, "fairsmoke.answers.plan_tasks:how_many_task"),
    "when": (SIMULATIONS, "fairsmoke.answers.when:when_task"),
    "what-if": (SIMULATIONS, "fairsmoke.answers.what_if:what_if_task"),
    "worth-trying": (SIMULATIONS, "fairsmoke.answers.worth_trying:worth_trying_task"),
}
"""Each task by its kind: its queue, and its function as module:name."""

Progress = Callable[[int, int], None]
"""Told how many steps are done and how many there are."""


@dataclass(frozen=True)
class Context:
    """Where a task runs: the notebook's file, the folder of results, and who asks."""

    notebook: Path
    folder: Path
    owner: str = ""

    @property
    def store(self) -> Store:
        """The store of results, as the owner asks of it."""
        return Store(self.folder, self.owner)

    def book(self) -> "Notebook":
        """Open the notebook and leave it to the end of the process.

        Closing would bring its log into the file, which is the app's to do and would hold it up.
        """
        from fairsmoke.notebook import Notebook

        return Notebook.open(self.notebook)


Task = Callable[[dict[str, Any], Context, Progress], dict[str, Any]]


def queue_of(kind: str) -> str:
    """Return the queue that a kind of task waits in. Raises KeyError when there is no such task."""
    return TASKS[kind][0]


def do(task: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Do one task, as the job queue writes it, and return its result."""
    module, _, name = TASKS[task["kind"]][1].partition(":")
    function: Task = getattr(import_module(module), name)
    at = Context(Path(task["notebook"]), Path(task["folder"]), task.get("owner", ""))
    return function(task["content"], at, progress)
