"""Who is signed in, for scripts."""

from typing import Literal

from fastapi import APIRouter, Request
from pydantic import BaseModel, Field

from fairsmoke.app.auth import SignedIn, Visiting
from fairsmoke.app.people.permissions import ALLOWED, May, Role
from fairsmoke.app.problems import documented
from fairsmoke.app.security.csrf import HEADER, csrf_token_for

router = APIRouter(prefix="/api", tags=["people"])


class Me(BaseModel):
    """The person signed in."""

    id: int
    name: str
    role: Role
    may: list[May]
    theme: Literal["auto", "light", "dark"]
    notebook: str = Field(
        description="The id of the notebook; what was recorded for another stays."
    )
    csrf: str = Field(description=f"The mark that changes need in the header {HEADER}.")


@router.get("/me", name="api_me", responses=documented(400, 401, 413, 429, 503))
def me(request: Request, person: SignedIn, visitor: Visiting) -> Me:
    """Say who is signed in and what they may."""
    return Me(
        id=person.id,
        name=person.name,
        role=person.role,
        may=sorted(ALLOWED[person.role]),
        theme=person.preferences.theme,
        notebook=request.app.state.notebook,
        csrf=csrf_token_for(visitor.cookie),
    )
