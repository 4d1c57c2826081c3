"""Look a plan over: what would spoil it, which layouts are possible, and whether it was drawn."""

from dataclasses import asdict
from typing import Any

from fairsmoke.design.draw import Wish, draw_layout, suitable_kind
from fairsmoke.design.errors import DesignError
from fairsmoke.notebook import Notebook
from fairsmoke.planning.remarks import remarks_of
from fairsmoke.setting_up.draw import redraw, with_names
from fairsmoke.trial.plan import LayoutKind, Plan
from fairsmoke.trial.question import Trial


def look_at_plan(notebook: Notebook, trial_id: str) -> dict[str, Any]:
    """Return plain data: remarks, the kinds of layout, and what came of drawing again.

    ``kinds`` has each kind with its line of what is free of what, seen in a layout drawn only to
    look at, or with the ``problem`` that keeps it from being drawn. ``redraw`` is None where
    nothing is drawn. Nothing is recorded. Raises NotebookError when there is no such trial.
    """
    trial = notebook.get(Trial, trial_id)
    plan = next(iter(notebook.list(Plan, trial=trial_id)), None)
    if plan is None:
        return {"remarks": [], "kinds": [], "suits": None, "redraw": None}
    return {
        "remarks": [asdict(one) for one in remarks_of(trial, plan)],
        "kinds": [_kind(trial, plan, kind) for kind in LayoutKind],
        "suits": str(suitable_kind(plan.at_hand, len(trial.arms))),
        "redraw": _redraw(notebook, trial_id) if plan.layout is not None else None,
    }


def _kind(trial: Trial, plan: Plan, kind: LayoutKind) -> dict[str, Any]:
    try:
        layout = draw_layout(plan.at_hand, [arm.id for arm in trial.arms], 0, Wish(kind))
    except DesignError as error:
        return {"kind": str(kind), "problem": str(error)}
    return {
        "kind": str(kind),
        "problem": "",
        "free": with_names(layout.free, trial),
        "cooks": len({slot.cook for slot in layout.slots}),
        "pieces": len(layout.slots),
        "spare": len(layout.spare),
    }


def _redraw(notebook: Notebook, trial_id: str) -> dict[str, Any]:
    try:
        found = redraw(notebook, trial_id)
    except DesignError as error:
        return {"same": False, "differs": [], "best_matched": None, "problem": str(error)}
    return {
        "same": found.same,
        "differs": list(found.differs),
        "best_matched": found.best_matched,
        "problem": "",
    }
