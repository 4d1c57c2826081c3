"""What goes wrong in a plan, said so that the person can mend it."""

from fairsmoke.messages.errors import InputError


class PlanError(InputError):
    """A plan that cannot be made as asked.

    The message names what is wrong, where, and what to do about it. Raised by every part of
    `fairsmoke.planning`.
    """
