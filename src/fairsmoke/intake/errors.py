"""What goes wrong when a logger's file is read."""

from fairsmoke.messages.errors import InputError


class IntakeError(InputError):
    """A logger's file or its mapping cannot be used; the message names the place and the mend."""
