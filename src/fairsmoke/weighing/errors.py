"""What is raised when weighings cannot give what was asked of them."""

from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import Words, in_a_row


class LedgerError(InputError):
    """Weighings that are impossible, or that cannot answer; the message says how to mend it.

    ``problems``  each thing that is wrong, as a sentence
    ``pieces``    the pieces concerned
    ``weighings`` the ids of the weighings and estimates concerned
    """

    def __init__(
        self,
        *problems: Words,
        pieces: tuple[str, ...] = (),
        weighings: tuple[str, ...] = (),
    ) -> None:
        super().__init__(in_a_row(problems, "\n"))
        self.problems = problems
        self.pieces = pieces
        self.weighings = weighings
