"""Look a plan over: what would spoil it, which layouts are possible, and whether it was drawn."""

from typing import Any

from fairsmoke.design.draw import Wish, draw_layout, suitable_kind
from fairsmoke.design.errors import DesignError
from fairsmoke.notebook import Notebook
from fairsmoke.planning.remarks import remarks_of
from fairsmoke.setting_up.draw import redraw
from fairsmoke.telling.document import to_json
from fairsmoke.telling.plan import free_line, remark_words
from fairsmoke.trial.plan import LayoutKind, Plan
from fairsmoke.trial.question import Trial


def look_at_plan(notebook: Notebook, trial_id: str) -> dict[str, Any]:
    """Return plain data: remarks, the kinds of layout, and what came of drawing again.

    ``kinds`` has each kind with what is free of what, in clauses, seen in a layout drawn only to
    look at, or with the ``problem`` that keeps it from being drawn. ``redraw`` is None where
    nothing is drawn. Messages are kept as `telling.document.to_json` does. Nothing
    is recorded. Raises NotebookError when there is no such trial.
    """
    trial = notebook.get(Trial, trial_id)
    plan = next(iter(notebook.list(Plan, trial=trial_id)), None)
    if plan is None:
        return {"remarks": [], "kinds": [], "suits": None, "redraw": None}
    words = [remark_words(one)._asdict() for one in remarks_of(trial, plan)]
    found = {
        "remarks": words,
        "kinds": [_kind(trial, plan, kind) for kind in LayoutKind],
        "suits": str(suitable_kind(plan.at_hand, len(trial.arms))),
        "redraw": _redraw(notebook, trial_id) if plan.layout is not None else None,
    }
    return dict(to_json(found))


def _kind(trial: Trial, plan: Plan, kind: LayoutKind) -> dict[str, Any]:
    try:
        layout = draw_layout(plan.at_hand, [arm.id for arm in trial.arms], 0, Wish(kind))
    except DesignError as error:
        return {"kind": str(kind), "problem": error.message}
    return {
        "kind": str(kind),
        "problem": "",
        "free": free_line(layout, trial),
        "cooks": len({slot.cook for slot in layout.slots}),
        "pieces": len(layout.slots),
        "spare": len(layout.spare),
    }


def _redraw(notebook: Notebook, trial_id: str) -> dict[str, Any]:
    try:
        found = redraw(notebook, trial_id)
    except DesignError as error:
        return {"same": False, "differs": [], "best_matched": None, "problem": error.message}
    return {
        "same": found.same,
        "differs": list(found.differs),
        "best_matched": found.best_matched,
        "problem": "",
    }
