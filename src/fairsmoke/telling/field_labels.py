"""What fields are called on pages, for messages that speak of them; one label for each name."""

from fairsmoke.messages.message import N_, Message

NEVER = N_("no end in sight")

LABELS: dict[str, Message] = {
    "serve": N_("Serve at"),
    "zone": N_("Time zone"),
    "cook": N_("Cook"),
    "trial": N_("Trial"),
    "cut": N_("Cut"),
    "mass": N_("Trimmed weight"),
    "length": N_("Length"),
    "width": N_("Width"),
    "thick": N_("Where it is thickest"),
    "pit": N_("Pit"),
    "wrap": N_("Wrap"),
    "wrap_at": N_("Wrapped when the core is at"),
    "finish": N_("Pit once wrapped, if other"),
    "until": N_("Comes off when the core is at"),
    "longest": N_("Longest time for each stage"),
    "hold": N_("Holding cabinet"),
    "hold_for": N_("Held for"),
    "hold_wrap": N_("Wrap in the hold, if other"),
    "fat": N_("Fat added in the wrap"),
    "base": N_("The way you know, from which the next trial turns one knob"),
    "worthwhile": N_("Difference that matters"),
    "goals": N_("What you want of it"),
    "pan": N_("Water pan"),
    "measured": N_("The pit's air"),
    "price_piece": N_("Price of a piece"),
    "price_cook": N_("Price of a cook, with its fuel"),
    "air": N_("How the cooker's air moves"),
    "certainty": N_("How sure to be in time, per cent"),
    "hold_shortest": N_("Shortest hold"),
    "hold_longest": N_("Longest hold"),
    "scatter": N_("How your pit scatters"),
    "last_cooks": N_("How far did your last three cooks run from plan?"),
    "heat_up": N_("From lighting until the cooker is hot"),
    "rest": N_("Opened, before it is sliced"),
    "fuel_every": N_("Fuel every"),
    "water_every": N_("Water every, where there is a pan"),
    "title": N_("Short title"),
    "arm": N_("Arms"),
    "measure": N_("What is measured"),
    "sure": N_("How sure before a verdict"),
    "piece": N_("Pieces"),
    "cooker": N_("A new cooker"),
    "stand_in": N_("In which cooker?"),
    "tasters": N_("How many will taste?"),
    "blind": N_("Do they know which sample is which?"),
    "currency": N_("Currency"),
    "humidity": N_("Moisture of the air"),
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
