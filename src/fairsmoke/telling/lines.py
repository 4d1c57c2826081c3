"""Words broken into lines for a terminal."""

import textwrap

WIDTH = 78
"""Letters in a line, about."""


def wrapped(text: str, indent: str = "", hang: str = "") -> list[str]:
    """Return text in lines of at most WIDTH letters, at least one line.

    `indent` stands before every line, `hang` too before all but the first. A word longer than a
    line, such as a path, stays whole.
    """
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent + hang,
        break_long_words=False,
        break_on_hyphens=False,
    ) or [indent]


__all__ = ["WIDTH", "wrapped"]
