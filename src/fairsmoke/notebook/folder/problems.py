"""Turning what a check of a record found into problems with a line and a mend."""

from collections.abc import Iterator
from typing import Any, get_args, get_origin

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from fairsmoke.messages.errors import pydantic_message
from fairsmoke.messages.message import N_, Words
from fairsmoke.notebook.errors import FolderProblem, did_you_mean
from fairsmoke.notebook.folder.yaml_text import Marked, Place
from fairsmoke.notebook.mapper import plain_type
from fairsmoke.trial.base import Record, file_key


def record_problems(
    marked: Marked, place: Place, model: type[Record], error: ValidationError
) -> Iterator[FolderProblem]:
    """Yield everything that is wrong with the record at a place of a file."""
    for detail in error.errors(include_url=False):
        yield _problem(marked, place, model, detail)


def _problem(
    marked: Marked, place: Place, model: type[Record], detail: ErrorDetails
) -> FolderProblem:
    loc = detail["loc"]
    where: Place = (*place, *loc)
    match detail["type"]:
        case "missing":
            return marked.problem(where, N_("is missing"))
        case "extra_forbidden":
            known = known_keys(_model_at(model, loc[:-1]))
            return marked.problem(
                where,
                N_("unknown key%(hint)s", hint=did_you_mean(str(loc[-1]), known)),
            )
        case "enum" | "literal_error":
            return marked.problem(where, _not_one_of(detail))
        case "string_pattern_mismatch":
            return marked.problem(where, _wrong_pattern(detail))
        case "string_type":
            return marked.problem(where, N_("must be one text"))
        case "string_too_short":
            return marked.problem(where, N_("is empty"))
        case "tuple_type":
            return marked.problem(where, N_("must be a list, as in [one, two]"))
        case "too_short":
            return marked.problem(where, N_("must have at least one entry"))
        case "model_type" | "model_attributes_type" | "dict_type":
            return marked.problem(where, N_("must be keys with values, as in 'name: ...'"))
        case "float_parsing" | "int_parsing" | "float_type" | "int_type" | "int_from_float":
            return marked.problem(
                where, N_("'%(written)s' is not a number", written=detail["input"])
            )
        case "bool_parsing" | "bool_type":
            return marked.problem(where, N_("must be yes or no"))
        case _:
            return marked.problem(where, pydantic_message(detail))


def _not_one_of(detail: ErrorDetails) -> Words:
    expected = str(detail.get("ctx", {}).get("expected", ""))
    words = [word for word in expected.replace(" or ", ", ").split(", ") if word]
    known = [word.strip("'") for word in words]
    word = str(detail["input"])
    return N_(
        "'%(word)s' is not one of the words here%(hint)s",
        word=word,
        hint=did_you_mean(word, known),
    )


def _wrong_pattern(detail: ErrorDetails) -> Words:
    pattern = str(detail.get("ctx", {}).get("pattern", ""))
    written = str(detail["input"])
    if pattern.startswith("^[a-z0-9]("):
        return N_(
            "'%(written)s' is not a handle: small letters, digits and hyphens, as in 'left-1'",
            written=written,
        )
    if "[0-5]" in pattern:
        return N_("'%(written)s' is not a clock time; write it as 06:30", written=written)
    if "64" in pattern:
        return N_("'%(written)s' must be 64 digits of 0-9 and a-f", written=written)
    return pydantic_message(detail)


def known_keys(model: type[Record] | None) -> list[str]:
    """Return the keys that a record has in a file."""
    return [] if model is None else [file_key(name) for name in model.model_fields]


def _model_at(model: type[Record], loc: tuple[int | str, ...]) -> type[Record] | None:
    """Return the class of the record that stands at a place inside another."""
    inner: Any = model
    for step in loc:
        if isinstance(step, int):
            arguments = get_args(inner) if get_origin(inner) is tuple else ()
            inner = plain_type(arguments[0]) if arguments else None
        elif isinstance(inner, type) and issubclass(inner, Record):
            by_key = {file_key(name): info for name, info in inner.model_fields.items()}
            inner = plain_type(by_key[step].annotation) if step in by_key else None
        else:
            return None
    return inner if isinstance(inner, type) and issubclass(inner, Record) else None
