"""What becomes of errors: the API's one shape, or a page that says what to do."""

import logging
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from pydantic import ValidationError
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, RedirectResponse, Response

from fairsmoke.app.auth import Visitor, _visitor
from fairsmoke.app.page import Page, kitchen_of
from fairsmoke.app.people.reader import show_for
from fairsmoke.app.people.secrets import new_token
from fairsmoke.app.problems import AppError, Likely, PlaceProblem, Problem, is_api
from fairsmoke.arriving.doubted import DoubtedError
from fairsmoke.messages.catalogue import preferred, say
from fairsmoke.messages.errors import InputError, is_for_a_person, message_of
from fairsmoke.messages.message import N_, Listed, Message, Sentence, Words, chained
from fairsmoke.telling.reader import Reader

_log = logging.getLogger("fairsmoke.app")

_PLAIN = {
    404: N_("There is no such page."),
    405: N_("This cannot be done here."),
    500: N_("Something went wrong in the program. What was recorded is safe. Try again."),
}
_CODES = {404: "not-found", 405: "method"}


def places_in(error: RequestValidationError | ValidationError) -> list[PlaceProblem]:
    """Return each place that is wrong in what was sent."""
    found = error.errors()
    return [
        PlaceProblem(
            place=".".join(str(part) for part in one["loc"] if part != "body"),
            message=str(one["msg"]).removeprefix("Value error, "),
        )
        for one in found
    ]


def problems_in(error: ValueError, reader: Reader) -> list[PlaceProblem]:
    """Return what is wrong in a form, said to who filled it in.

    Raises the error itself when it is a fault of ours.
    """
    if isinstance(error, ValidationError):
        return places_in(error)
    if not is_for_a_person(error):
        raise error
    return [PlaceProblem(place="", message=reader.say(message_of(error)))]


async def _answer(
    request: Request,
    status: int,
    code: str,
    message: Words,
    problems: list[PlaceProblem] | None = None,
    headers: dict[str, str] | None = None,
) -> Response:
    if is_api(request.url.path):
        language = preferred(request.headers.get("accept-language", ""))
        content = Problem.of(code, say(message, language), problems).model_dump()
        return JSONResponse(content, status, headers)
    if status == 401 and request.method == "GET":
        return RedirectResponse("/sign-in?" + urlencode({"next": request.url.path}), 303)
    page = _page_of(request)
    answer = page.show("error.html", status, message=message, problems=problems or [])
    answer.headers.update(headers or {})
    return answer


def _page_of(request: Request) -> Page:
    state = request.app.state
    try:
        visitor = _visitor(request, state.book, state.settings)
        return Page(request, visitor, kitchen_of(state.book), state.settings.secure)
    except ValueError:
        # The notebook itself may be what went wrong.
        return Page(request, Visitor(new_token()), None, state.settings.secure)


async def _app_error(request: Request, error: AppError) -> Response:
    headers = dict(error.headers or {})
    return await _answer(
        request, error.status_code, error.code, error.message, error.problems, headers
    )


async def _http_error(request: Request, error: HTTPException) -> Response:
    message = _PLAIN.get(error.status_code, str(error.detail))
    code = _CODES.get(error.status_code, "refused")
    return await _answer(
        request, error.status_code, code, message, headers=dict(error.headers or {})
    )


async def _not_valid(request: Request, error: RequestValidationError | ValidationError) -> Response:
    message = N_("Something has to be mended first.")
    return await _answer(request, 422, "not-valid", message, places_in(error))


_STATUS = {
    "invalid": 422,
    "missing": 404,
    "conflict": 409,
    "too-large": 413,
    "busy": 429,
    "storage": 503,
    "forbidden": 403,
}


async def _value_error(request: Request, error: ValueError) -> Response:
    """Answer what a lower room says to a person; anything else is a fault of ours."""
    if is_for_a_person(error):
        # Where the notebook lies on the machine is nobody's business on a phone.
        path = request.app.state.book.path
        message = message_of(error)
        message = _without_path(message, path)
        if not isinstance(error, InputError):
            return await _answer(request, 422, "refused", message)
        wait = error.retry_after_s
        headers = {} if wait is None else {"Retry-After": f"{wait:.0f}"}
        status = _STATUS[error.kind]
        return await _answer(request, status, error.code, message, headers=headers)
    return await _fault(request, error)


def _without_path(words: Words, path: Path) -> Words:
    if isinstance(words, Listed):
        items = [_without_path(one, path) for one in words.items]
        return Listed(items, words.last, words.between)
    if isinstance(words, Sentence):
        return Sentence(_without_path(words.words, path))
    if isinstance(words, Message):
        values = {name: _shortened(value, path) for name, value in words.values.items()}
        return Message(words.text, values, words.many, words.count)
    return words.replace(str(path), path.name)


def _shortened(value: Any, path: Path) -> Any:
    value = str(value) if isinstance(value, Path) else value
    return (
        _without_path(value, path) if isinstance(value, (Message, Listed, Sentence, str)) else value
    )


async def _doubted(request: Request, error: DoubtedError) -> Response:
    """Answer what hardly can be true with the question, and with what may have been meant."""
    question = chained([one.question for one in error.asked], " ")
    if not is_api(request.url.path):
        return await _answer(request, 409, error.code, question)
    language = preferred(request.headers.get("accept-language", ""))
    state = request.app.state
    person = _visitor(request, state.book, state.settings).person
    reader = show_for(person, kitchen_of(state.book), language)
    likely = [
        Likely(says=reader.say(one.says), changes=dict(one.changes))
        for asked in error.asked
        for one in asked.likely
    ]
    content = Problem.of(error.code, reader.say(question), likely=likely).model_dump()
    return JSONResponse(content, 409)


async def _fault(request: Request, error: Exception) -> Response:
    _log.error("%s %s failed", request.method, request.url.path, exc_info=error)
    return await _answer(request, 500, "fault", _PLAIN[500])


def install(app: FastAPI) -> None:
    """Make the app answer every error in our way."""
    handlers = {
        AppError: _app_error,
        HTTPException: _http_error,
        RequestValidationError: _not_valid,
        ValidationError: _not_valid,
        DoubtedError: _doubted,
        ValueError: _value_error,
        Exception: _fault,
    }
    for kind, handler in handlers.items():
        app.add_exception_handler(kind, handler)  # type: ignore[arg-type]
