"""The registered plan to take away: the very bytes whose SHA-256 was shown."""

from fastapi import APIRouter
from fastapi.responses import Response

from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.pages.plan_parts import Stands
from fairsmoke.app.problems import AppError
from fairsmoke.messages.message import N_

router = APIRouter()


@router.get("/trials/{trial}/plan/registered-plan.json", name="registered_plan")
def registered_plan(trial: FoundTrial, stands: Stands) -> Response:
    """Hand out the canonical file of a registered plan."""
    if stands.registration is None:
        raise AppError(404, "not-registered", N_("The plan of this trial is not registered."))
    name = f"registered-plan-{trial.id}.json"
    return Response(
        stands.registration.plan.encode(),
        media_type="application/json",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
