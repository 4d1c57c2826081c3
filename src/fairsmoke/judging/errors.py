"""What goes wrong in a comparison, said so that the person can mend it."""

from fairsmoke.messages.errors import InputError


class ComparisonError(InputError):
    """The data given cannot answer the question asked.

    The message names what is wrong, where (which column, factor, arm or row) and what to do about
    it. Raised by every part of `fairsmoke.judging`.
    """
