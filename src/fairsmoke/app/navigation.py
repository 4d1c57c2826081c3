"""The places of the app: what the navigation shows. Each module says its own; none is empty."""

from dataclasses import dataclass
from typing import Literal

from fairsmoke.app.people.permissions import May
from fairsmoke.messages.message import Message


@dataclass(frozen=True)
class NavigationLink:
    """A page that is reached in one tap.

    ``route`` is the name of its route; ``scope`` where it belongs: the whole notebook, one trial
    (its route takes ``trial``), one cook (``trial`` and ``cook``), or the person. ``order`` follows
    the steps of the job: 10 ask, 20 plan, 30 cook, 40 weigh, 50 taste, 60 judge, 70 tell,
    80 remember.
    """

    name: Message
    route: str
    scope: Literal["notebook", "trial", "cook", "person"]
    order: int
    needs: May | None = None
