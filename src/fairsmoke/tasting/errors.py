"""What goes wrong in a tasting, said so that the person can mend it."""

from fairsmoke.messages.errors import InputError


class TastingError(InputError):
    """A tasting that cannot be laid out or judged as asked; raised by every part of this room."""
