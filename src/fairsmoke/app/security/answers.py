"""Answers given before any page or API function is reached."""

from starlette.responses import JSONResponse, PlainTextResponse, Response

from fairsmoke.app.problems import Problem, is_api


def refusal(path: str, status: int, code: str, message: str) -> Response:
    """Return a refusal in the API's one shape, or as plain text for a page."""
    if is_api(path):
        return JSONResponse(Problem.of(code, message).model_dump(), status)
    return PlainTextResponse(message, status)
