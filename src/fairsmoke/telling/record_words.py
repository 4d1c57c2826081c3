"""The words for what records name by code, for every face."""

from fairsmoke.judging.rule import VerdictKind
from fairsmoke.messages.message import N_, Message, Words
from fairsmoke.trial.cook import EventKind
from fairsmoke.trial.protocol import Cover, Humidity, Place, Wrap
from fairsmoke.trial.question import Better
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import MeatState

EVENTS = {
    EventKind.ON: N_("Put on"),
    EventKind.RAISE: N_("Pit set higher"),
    EventKind.LOWER: N_("Pit set lower"),
    EventKind.SPRITZ: N_("Spritzed"),
    EventKind.WRAP: N_("Wrapped"),
    EventKind.UNWRAP: N_("Unwrapped"),
    EventKind.PULL: N_("Pulled off"),
    EventKind.HOLD: N_("Into the hold"),
    EventKind.HOLD_END: N_("Taken out of the hold"),
    EventKind.MOVED: N_("Moved"),
    EventKind.FUEL: N_("Fuel added"),
    EventKind.WATER: N_("Water added"),
    EventKind.LID: N_("Lid opened"),
    EventKind.PROBE_OUT: N_("Probe out"),
    EventKind.PROBE_IN: N_("Probe in"),
    EventKind.SLICE: N_("Cut up"),
    EventKind.SERVE: N_("Served"),
    EventKind.NOTE: N_("Note"),
}
"""What an event says happened."""

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
HUMIDITIES = {
    Humidity.NONE: N_("nothing added"),
    Humidity.WATER_PAN: N_("water pan"),
    Humidity.STEAM: N_("steam"),
    Humidity.SPRITZ: N_("spritz"),
    Humidity.SEALED_WRAP: N_("sealed wrap"),
}
VERDICTS = {
    VerdictKind.BETTER: N_("Settled: one is better"),
    VerdictKind.HIGHER: N_("Settled: one is higher"),
    VerdictKind.NO_DIFFERENCE: N_("Settled: no difference that matters"),
    VerdictKind.NOT_SETTLED: N_("Not settled"),
}
"""The fixed words of a verdict."""

BETTER = {
    Better.HIGHER: N_("higher"),
    Better.LOWER: N_("lower"),
    Better.NEITHER: N_("neither"),
}
"""Which way of a measure is the better one."""

MEAT_STATES = {
    MeatState.BOUGHT: N_("bought"),
    MeatState.TRIMMED: N_("trimmed"),
    MeatState.COOKED: N_("cooked"),
    MeatState.HELD: N_("held"),
    MeatState.SERVED: N_("served"),
}
FACTORS = {
    "piece": N_("piece"),
    "cook": N_("cook"),
    "animal": N_("animal"),
    "parent": N_("whole piece"),
    "position": N_("place in the cooker"),
    "measurement": N_("measurement"),
    "prior": N_("prior"),
    "not knowing the spreads": N_("not knowing the spreads"),
}
"""What the comparison model calls its parts."""

DRAWN_WITHIN = {
    "pair": N_("within each pair"),
    "cook": N_("within each cook"),
    "whole piece": N_("within each whole piece"),
    "trial": N_("within the trial"),
}
"""Within what the arms were drawn."""


def wrap_words(wrap: Wrap) -> Words:
    """Return a wrap in words: "paper", "unwrapped", or "bare above, foil below"."""
    if wrap.above == wrap.below:
        return N_("unwrapped") if wrap.above is Cover.BARE else COVERS[wrap.above]
    return N_(
        "%(above)s above, %(below)s below", above=COVERS[wrap.above], below=COVERS[wrap.below]
    )


def spot_name(record: TrialRecord, spot: str) -> str:
    """Return the name of a place from its handle, "barrel/left"."""
    names = {f"{c.id}/{p.id}": p.name for c in record.cookers for p in c.positions}
    return names.get(spot, spot)


def wrap_message(wrap: Wrap) -> Message:
    """Return a wrap in words: "paper", or "bare above, foil below"."""
    if wrap.above == wrap.below:
        return COVERS[wrap.above]
    return N_(
        "%(above)s above, %(below)s below", above=COVERS[wrap.above], below=COVERS[wrap.below]
    )
