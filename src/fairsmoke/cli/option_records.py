"""Options of a command as one record: its fields are the options, its defaults theirs."""

import inspect
from collections.abc import Callable
from dataclasses import MISSING, fields
from functools import wraps
from typing import Any, get_type_hints

import typer

Command = Callable[..., None]


def taking(record: type[Any], *others: type[Any]) -> Callable[[Command], Command]:
    """Let a command take records of options as its first arguments, in this order.

    A field with a default is an option or argument as its ``Annotated`` type says. The command's
    own options follow those of the records.
    """

    def made(command: Command) -> Command:
        records = (record, *others)
        own = list(inspect.signature(command, eval_str=True).parameters.values())[len(records) :]
        of_records = [_parameters(one) for one in records]

        @wraps(command)
        def run(**given: Any) -> None:
            filled = [
                one(**{parameter.name: given.pop(parameter.name) for parameter in parameters})
                for one, parameters in zip(records, of_records, strict=True)
            ]
            command(*filled, **given)

        by_name = inspect.Parameter.KEYWORD_ONLY
        parameters = [one for group in of_records for one in group]
        parameters += [one.replace(kind=by_name) for one in own]
        run.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
        run.__annotations__ = {one.name: one.annotation for one in parameters}
        return run

    return made


def _parameters(record: type[Any]) -> list[inspect.Parameter]:
    hints = get_type_hints(record, include_extras=True)
    kind = inspect.Parameter.KEYWORD_ONLY
    return [
        inspect.Parameter(
            one.name,
            kind,
            default=inspect.Parameter.empty if one.default is MISSING else one.default,
            annotation=hints[one.name],
        )
        for one in fields(record)
    ]


def said_options(context: typer.Context) -> set[str]:
    """Return the names of the options and arguments that were written on the command line."""
    sources = {name: context.get_parameter_source(name) for name in context.params}
    return {name for name, source in sources.items() if source and source.name == "COMMANDLINE"}
