"""The one shape in which the API says that something could not be done, and the errors behind it.

Pages and API functions raise ``AppError``; ``errors`` turns it, and whatever lower rooms raise,
into an answer.
"""

from typing import Any, Self

from fastapi import HTTPException
from pydantic import BaseModel, Field, model_serializer
from pydantic_core.core_schema import SerializerFunctionWrapHandler

from fairsmoke.messages.message import Message

API = "/api"


def is_api(path: str) -> bool:
    """Tell whether a path is answered in JSON."""
    return path == API or path.startswith(f"{API}/")


class PlaceProblem(BaseModel):
    """What is wrong at one place of what was sent."""

    place: str = Field(description="Where: the path to the field, with dots between.")
    message: str = Field(description="What is wrong there, and the mend.")


class Likely(BaseModel):
    """What may have been meant by a value that hardly can be true."""

    says: str = Field(description="As the answer to the question, for people.")
    changes: dict[str, str] = Field(description="The fields of the entry that it changes.")


class ProblemAnswer(BaseModel):
    """What could not be done, and why."""

    code: str = Field(description="For programs; does not change with the language.")
    message: str = Field(description="For people.")
    problems: list[PlaceProblem] = Field(default_factory=list)
    likely: list[Likely] = Field(
        default_factory=list,
        description='With the code "doubted": what may have been meant. Send it with "insist" to '
        "keep it as it is.",
    )

    @model_serializer(mode="wrap")
    def _without_empty(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        content: dict[str, Any] = handler(self)
        return content if self.likely else {k: v for k, v in content.items() if k != "likely"}


class Problem(BaseModel):
    """The answer when something could not be done."""

    error: ProblemAnswer

    @classmethod
    def of(
        cls,
        code: str,
        message: str,
        problems: list[PlaceProblem] | None = None,
        likely: list[Likely] | None = None,
    ) -> Self:
        """Return the answer with these words."""
        said = ProblemAnswer(
            code=code, message=message, problems=problems or [], likely=likely or []
        )
        return cls(error=said)


class AppError(HTTPException):
    """Something that cannot be done; ``message`` is for a person and is translated."""

    def __init__(
        self,
        status: int,
        code: str,
        message: Message,
        *,
        problems: list[PlaceProblem] | None = None,
        headers: dict[str, str] | None = None,
    ) -> None:
        super().__init__(status, detail=message.english, headers=headers)
        self.code = code
        self.message = message
        self.problems = problems or []


_WHAT = {
    400: "What was sent cannot be read.",
    401: "Nobody is signed in, or the token is not known.",
    403: "Not allowed, or the form's mark against forgery is missing.",
    404: "There is no such thing.",
    409: "The same id was sent before with other content, or what was sent hardly can be true "
    "(code doubted).",
    413: "More was sent than is taken at once.",
    415: "Not a kind of file that is taken.",
    422: "Something in what was sent has to be mended; each place is named.",
    429: "Too many requests; wait as long as Retry-After says.",
    503: "The disk is full or the notebook's file is busy; send it again after Retry-After.",
}


def documented(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Return these refusals for OpenAPI; every answer of the API is documented by it."""
    return {status: {"model": Problem, "description": _WHAT[status]} for status in statuses}
