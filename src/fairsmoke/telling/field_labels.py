"""What fields are called on pages, for messages that speak of them; one label for each name."""

from fairsmoke.messages.message import N_, Message

NEVER = N_("no end in sight")

LABELS: dict[str, Message] = {
    "serve": N_("Serve at"),
    "zone": N_("Time zone"),
    "cook": N_("Cook"),
    "trial": N_("Trial"),
    "title": N_("Short title"),
    "arm": N_("Arms"),
    "measure": N_("What is measured"),
    "sure": N_("How sure before a verdict"),
    "cut": N_("Which cut?"),
    "piece": N_("Pieces"),
    "cooker": N_("A new cooker"),
    "stand_in": N_("In which cooker?"),
    "tasters": N_("How many will taste?"),
    "blind": N_("Do they know which sample is which?"),
    "price_piece": N_("Price of a piece"),
    "price_cook": N_("Price of a cook, with its fuel"),
    "currency": N_("Currency"),
    "pit": N_("Pit"),
    "humidity": N_("Moisture of the air"),
    "wrap": N_("Wrap"),
    "wrap_at": N_("Wrapped when the core is at"),
    "finish": N_("Pit once it is wrapped, if other"),
    "until": N_("Comes off when the core is at"),
    "longest": N_("Comes off after that in any case"),
    "hold": N_("Holding cabinet, if it is held"),
    "hold_for": N_("Held for"),
    "hold_wrap": N_("Wrap in the hold, if other"),
    "note": N_("What else is done, in words"),
    "name": N_("Name"),
    "why": N_("Why"),
    "what": N_("What is done otherwise, in words"),
    "swap": N_("Pieces of a set change places, each in every place for as long"),
    "late": N_("Freeze it all the same; the trial stays exploratory"),
}


def label_of(name: str) -> Message | str:
    """Return the label of a field; a field without one of its own by its name in words."""
    return LABELS.get(name, name.replace("_", " "))
