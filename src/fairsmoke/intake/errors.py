"""What goes wrong when a logger's file is read."""


class IntakeError(ValueError):
    """A logger's file or its mapping cannot be used; the message names the place and the mend."""
