"""What a protocol's places and covers are called."""

from fairsmoke.messages.message import N_, Message
from fairsmoke.trial.protocol import Cover, Place, Wrap

PLACES_OF_STAGES = {
    Place.COOKER: N_("cooker"),
    Place.CABINET: N_("holding cabinet"),
    Place.COOLER: N_("dry cooler"),
    Place.COUNTER: N_("counter"),
    Place.FRIDGE: N_("fridge"),
}
COVERS = {
    Cover.BARE: N_("bare"),
    Cover.PAPER: N_("paper"),
    Cover.FOIL: N_("foil"),
    Cover.FILM: N_("film"),
    Cover.FILM_UNDER_FOIL: N_("film under foil"),
    Cover.TRAY: N_("tray"),
}


def wrap_message(wrap: Wrap) -> Message:
    """Return a wrap in words: "paper", or "bare above, foil below"."""
    if wrap.above == wrap.below:
        return COVERS[wrap.above]
    return N_(
        "%(above)s above, %(below)s below", above=COVERS[wrap.above], below=COVERS[wrap.below]
    )
