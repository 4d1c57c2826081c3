"""What child processes can do, by name."""

from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

from fairsmoke.answers.finding import tell_trial, write_kept_data, write_kept_report
from fairsmoke.notebook import Notebook
from fairsmoke.quantity import Units

Progress = Callable[[int, int], None]


def do(task: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Do one piece of work and return its result, plain data."""
    return _TASKS[task["kind"]](task, progress)


def _finding(task: dict[str, Any], progress: Progress) -> dict[str, Any]:
    content = task["content"]
    units = Units(**content["units"])
    kept = tell_trial(_opened(task), content["trial"], units, _told(task), progress)
    return {"folder": str(kept.folder), "state": asdict(kept.state)}


def _report(task: dict[str, Any], _progress: Progress) -> dict[str, Any]:
    content = task["content"]
    units = Units(**content["units"])
    book, paper = _opened(task), content["paper"]
    path = write_kept_report(book, content["trial"], units, _told(task), paper)
    return {"file": str(path)}


def _data(task: dict[str, Any], _progress: Progress) -> dict[str, Any]:
    path = write_kept_data(_opened(task), task["content"]["trial"], _told(task))
    return {"file": str(path)}


def _what_if(task: dict[str, Any], progress: Progress) -> dict[str, Any]:
    from fairsmoke.answers.what_if import run_what_if

    return run_what_if(task["content"], Path(task["notebook"]), Path(task["folder"]), progress)


def _worth_trying(task: dict[str, Any], progress: Progress) -> dict[str, Any]:
    from fairsmoke.answers.worth_trying_kept import run_worth

    return run_worth(task["content"], Path(task["folder"]), progress)


def _look_at_plan(task: dict[str, Any], _progress: Progress) -> dict[str, Any]:
    from fairsmoke.setting_up.plan_review import look_at_plan

    return look_at_plan(_opened(task), task["content"]["trial"])


def _draw(task: dict[str, Any], _progress: Progress) -> dict[str, Any]:
    from fairsmoke.setting_up.draw import draw
    from fairsmoke.trial.plan import LayoutKind

    given = task["content"]
    drawn = draw(
        _opened(task),
        given["trial"],
        kind=LayoutKind(given["kind"]) if given["kind"] else None,
        swap=given["swap"],
        seed=given["seed"],
        by=given["by"],
        why=given["why"],
    )
    return {"seed": drawn.layout.seed}


def _how_many(task: dict[str, Any], _progress: Progress) -> dict[str, Any]:
    from fairsmoke.answers.how_many import Choices
    from fairsmoke.answers.how_many_shown import how_many_shown

    given = task["content"]
    return how_many_shown(_opened(task), given["trial"], Choices(**given["choices"]))


def _when(task: dict[str, Any], progress: Progress) -> dict[str, Any]:
    from fairsmoke.answers.when_kept import run_when

    return run_when(task["content"], Path(task["notebook"]), Path(task["folder"]), progress)


def _deviations(task: dict[str, Any], _progress: Progress) -> dict[str, Any]:
    from fairsmoke.setting_up.register import deviations

    return {"found": [asdict(one) for one in deviations(_opened(task), task["content"]["trial"])]}


def _opened(task: dict[str, Any]) -> Notebook:
    """Open the notebook and leave it to the end of the process.

    Closing would bring its log into the file, which is the app's to do and would hold it up.
    """
    return Notebook.open(task["notebook"])


def _told(task: dict[str, Any]) -> Path:
    return Path(task["folder"]) / "told"


_TASKS: dict[str, Callable[[dict[str, Any], Progress], dict[str, Any]]] = {
    "finding": _finding,
    "report": _report,
    "data": _data,
    "what-if": _what_if,
    "worth-trying": _worth_trying,
    "look-at-plan": _look_at_plan,
    "draw": _draw,
    "how-many": _how_many,
    "when": _when,
    "deviations": _deviations,
}
