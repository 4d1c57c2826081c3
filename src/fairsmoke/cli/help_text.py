"""Help and usage errors of the commands in the shell's language; the library's own are English.

The command tree is built anew for each call, so that it is in the language of that call.
"""

import gettext
import os
import re
import sys
from collections.abc import Callable
from typing import Any

import typer
import typer.core
from typer.exceptions import TyperException as _TyperException

from fairsmoke.cli.screen import DONE, complain, err, language_here, said
from fairsmoke.messages.errors import PYDANTIC
from fairsmoke.messages.message import N_, T_, Message, Words

_WORDS = (
    T_("Arguments"),
    T_("Options"),
    T_("Commands"),
    T_("required"),
    T_("default: {default}"),
    T_("(dynamic)"),
    T_("env var: {var}"),
    T_("Aborted!"),
    T_("Missing command."),
    T_("No such command {name!r}."),
)
"""What the library itself says in a help text, by its own words."""

_ERRORS: tuple[tuple[str, Message], ...] = (
    (
        r"No such option: (?P<name>\S+) \(Possible options: (?P<known>.*)\)",
        N_("No such option: %(name)s (perhaps %(known)s)"),
    ),
    (r"No such option: (?P<name>\S+)", N_("No such option: %(name)s")),
    (r"No such command '(?P<name>.*)'\.", N_("No such command '%(name)s'.")),
    (r"Missing option '(?P<name>[^']*)'.*", N_("Missing option '%(name)s'.")),
    (r"Missing argument '(?P<name>[^']*)'.*", N_("Missing argument '%(name)s'.")),
    (
        r"Option '(?P<name>[^']*)' requires an argument\.",
        N_("Option '%(name)s' requires an argument."),
    ),
    (
        r"Got unexpected extra arguments? \((?P<name>.*)\)",
        N_("Got unexpected extra arguments (%(name)s)"),
    ),
    (
        r"Value error, (?P<given>'.*') is not one of (?P<known>.*)\.",
        N_("%(given)s is not one of %(known)s."),
    ),
)
"""What the library says of a command written wrongly, and the same as a message of ours."""

_USAGE = N_("Usage")
_OPTION_HELP = T_("Show this message and exit.")


def _translated(text: str) -> str:
    """Return a text marked with ``T_`` in this shell's language."""
    if not text or language_here() == "en":
        return text
    return said(Message(text))


class _Translated:
    """A command whose help is in the shell's language; for classes of the library's commands."""

    help: str | None
    params: list[Any]
    collect_usage_pieces: Callable[[Any], list[str]]

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if language_here() == "en":
            return
        self.help = _translated(self.help or "")
        for param in self.params:
            param.help = _translated(getattr(param, "help", None) or "")

    def format_usage(self, ctx: Any, formatter: Any) -> None:
        """Write the line that says how the command is called."""
        pieces = " ".join(self.collect_usage_pieces(ctx))
        formatter.write_usage(ctx.command_path, pieces, prefix=f"{said(_USAGE)}: ")

    def get_help_option(self, ctx: Any) -> Any:
        """Return the option that shows the help."""
        option = super().get_help_option(ctx)  # type: ignore[misc]
        if option is not None:
            option.help = _translated(_OPTION_HELP)
        return option


class _Command(_Translated, typer.core.TyperCommand):
    """A command with translated help."""


class _Group(_Translated, typer.core.TyperGroup):
    """The program itself with translated help."""


class CommandLine(typer.Typer):
    """A command line whose help and usage errors are in the shell's language."""

    def __init__(self, **options: Any) -> None:
        super().__init__(cls=_Group, **options)

    def command(self, name: str | None = None, **options: Any) -> Any:
        """Register a command by its verb."""
        return super().command(name, cls=_Command, **options)

    def run(self, arguments: list[str]) -> int:
        """Run a command and return its exit code; a command written wrongly is told so."""
        try:
            found = self(args=arguments, standalone_mode=False)
        except typer.Abort:
            complain(_translated("Aborted!"))
            return 1
        except BrokenPipeError:
            # Who reads on has gone, as with `| head`; nothing more is to be written.
            sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115
            return 1
        except Exception as error:
            # The library's class of usage errors has no public name.
            if not isinstance(error, _TyperException):
                raise
            _tell(error)
            return error.exit_code
        return found if isinstance(found, int) else DONE


def _tell(error: "_TyperException") -> None:
    message = error.format_message()
    context = getattr(error, "ctx", None)
    if context is not None and message == context.get_help():
        err.print(message)
        return
    if context is not None:
        complain(context.get_usage())
        complain(Message(_HINT, {"command": f"{context.command_path} --help"}))
    complain(N_("Error: %(error)s", error=_usage_error(message)))


_HINT = T_("Try '%(command)s' for help.\n")


def _usage_error(text: str) -> Words:
    named = re.fullmatch(r"Invalid value for (?P<name>.*?): (?P<wrong>.*)", text, re.DOTALL)
    if named:
        wrong = _usage_error(named["wrong"])
        return N_("Invalid value for %(name)s: %(wrong)s", name=named["name"], wrong=wrong)
    # The longest first: "less than" also begins "less than or equal to".
    longest = sorted(PYDANTIC.values(), key=lambda message: -len(message.text))
    ours = [(_pattern_of(message), message) for message in longest]
    for pattern, message in (*_ERRORS, *ours):
        found = re.fullmatch(pattern, text, re.DOTALL)
        if found:
            return Message(message.text, found.groupdict())
    return text


def _pattern_of(message: Message) -> str:
    """Return the pattern of a message's English, a group for each of its values."""
    return re.sub(r"%\\\((\w+)\\\)s", r"(?P<\1>.*)", re.escape(message.text))


def _library_word(text: str) -> str:
    return _translated(text) if text in _WORDS else gettext.gettext(text)


# The library looks its words up by this name, in a catalogue that it does not have.
setattr(typer.core, "_", _library_word)  # noqa: B010
