"""What fields are called on pages, for messages that speak of them; one label for each name."""

from fairsmoke.messages.message import N_, Message

NEVER = N_("no end in sight")

LABELS: dict[str, Message] = {
    "serve": N_("Serve at"),
    "zone": N_("Time zone"),
    "cook": N_("Cook"),
    "trial": N_("Trial"),
}


def label_of(name: str) -> Message | str:
    """Return the label of a field; a field without one of its own by its name in words."""
    return LABELS.get(name, name.replace("_", " "))
