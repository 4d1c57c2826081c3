"""What fields are called on pages, for messages that speak of them; one label for each name."""

from fairsmoke.messages.message import N_, Message

NEVER = N_("no end in sight")

LABELS: dict[str, Message] = {
    "serve": N_("Serve at"),
    "zone": N_("Time zone"),
    "cook": N_("Cook"),
    "trial": N_("Trial"),
    "certainty": N_("How sure to be in time, per cent"),
    "hold_shortest": N_("Shortest hold"),
    "hold_longest": N_("Longest hold"),
    "scatter": N_("How your pit scatters"),
    "heat_up": N_("From lighting until the cooker is hot"),
    "rest": N_("Opened, before it is sliced"),
    "fuel_every": N_("Fuel every"),
    "water_every": N_("Water every, where there is a pan"),
}


def label_of(name: str) -> Message | str:
    """Return the label of a field; a field without one of its own by its name in words."""
    return LABELS.get(name, name.replace("_", " "))
