"""Tasks of a plan: looking it over, drawing, what departs from its registration, its size."""

from typing import Any

from fairsmoke.answers.tasks import Context, Progress
from fairsmoke.telling.document import to_json


def look_at_plan_task(content: dict[str, Any], at: Context, _: Progress) -> dict[str, Any]:
    """Look a trial's plan over."""
    from fairsmoke.setting_up.plan_review import look_at_plan

    return look_at_plan(at.book(), content["trial"])


def draw_task(content: dict[str, Any], at: Context, _: Progress) -> dict[str, Any]:
    """Draw a trial's layout; return its seed."""
    from fairsmoke.setting_up.draw import draw
    from fairsmoke.trial.plan import LayoutKind

    drawn = draw(
        at.book(),
        content["trial"],
        kind=LayoutKind(content["kind"]) if content["kind"] else None,
        swap=content["swap"],
        seed=content["seed"],
        by=content["by"],
        why=content["why"],
    )
    return {"seed": drawn.layout.seed}


def deviations_task(content: dict[str, Any], at: Context, _: Progress) -> dict[str, Any]:
    """Compare a trial with its registration."""
    from fairsmoke.setting_up.register import deviations

    found = deviations(at.book(), content["trial"])
    return {"found": to_json([{"sentence": one.sentence, "told": one.told} for one in found])}


def how_many_task(content: dict[str, Any], at: Context, progress: Progress) -> dict[str, Any]:
    """Count how many pairs a trial takes, and keep the document."""
    from fairsmoke.answers.how_many import HowManyRequest, how_many_content, how_many_key
    from fairsmoke.answers.store import subject_of

    book, trial = at.book(), content["trial"]
    request = HowManyRequest.from_json(content["request"])
    key = how_many_key(book, trial, request)
    entry = at.store.ask(key, content, subject=subject_of(at.notebook, trial))
    if entry.get("document") is None:
        entry.put("document", how_many_content(book, trial, request, progress, at.store))
    return {"key": key.digest}
