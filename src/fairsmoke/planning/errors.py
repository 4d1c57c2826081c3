"""What goes wrong in a plan, said so that the person can mend it."""


class PlanError(ValueError):
    """A plan that cannot be made as asked.

    The message names what is wrong, where, and what to do about it. Raised by every part of
    `fairsmoke.planning`.
    """
