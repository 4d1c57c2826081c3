"""What goes wrong in a layout, said so that the person can mend it."""

from fairsmoke.messages.errors import InputError


class DesignError(InputError):
    """A layout that cannot be made or read as asked.

    The message names what is wrong, where (which arm, piece or block) and what to do about it.
    Raised by every part of `fairsmoke.design`.
    """
