"""Tasks of a plan: looking it over, drawing, what departs from its registration, its size."""

from dataclasses import asdict
from typing import Any

from fairsmoke.answers.tasks import Context, Progress


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

    return {"found": [asdict(one) for one in deviations(at.book(), content["trial"])]}


def how_many_task(content: dict[str, Any], at: Context, _: Progress) -> dict[str, Any]:
    """Count how many pairs a trial takes."""
    from fairsmoke.answers.how_many import Choices
    from fairsmoke.answers.how_many_shown import how_many_shown

    return how_many_shown(at.book(), content["trial"], Choices(**content["choices"]))
