"""The words of pages for what the rooms below name by code."""

from fairsmoke.live.trial_status import CookStand, NextStep, Stand
from fairsmoke.messages.message import N_, NN_, Message
from fairsmoke.trial.cook import EventKind
from fairsmoke.trial.question import MeasureKind

STANDS = {
    Stand.WAITING: N_("Not on yet"),
    Stand.ON: N_("On the cooker"),
    Stand.WRAPPED: N_("On, wrapped"),
    Stand.OFF: N_("Off the cooker"),
    Stand.HELD: N_("In the hold"),
    Stand.OUT_OF_HOLD: N_("Out of the hold"),
    Stand.SLICED: N_("Sliced"),
}

ACTS = {
    EventKind.ON: N_("Put it on"),
    EventKind.RAISE: N_("Set the pit higher"),
    EventKind.LOWER: N_("Set the pit lower"),
    EventKind.SPRITZ: N_("Spritz"),
    EventKind.WRAP: N_("Wrap"),
    EventKind.UNWRAP: N_("Unwrap"),
    EventKind.PULL: N_("Pull off"),
    EventKind.HOLD: N_("Put into the hold"),
    EventKind.HOLD_END: N_("Take out of the hold"),
    EventKind.MOVED: N_("Move"),
    EventKind.FUEL: N_("Fuel"),
    EventKind.WATER: N_("Water"),
    EventKind.LID: N_("Lid open"),
    EventKind.PROBE_OUT: N_("Probe out"),
    EventKind.PROBE_IN: N_("Probe in"),
    EventKind.SLICE: N_("Slice"),
    EventKind.SERVE: N_("Serve"),
    EventKind.NOTE: N_("Note"),
}
"""What is to be done, as a button says it."""

MEASURE_KINDS = {
    MeasureKind.YIELD: N_("Yield: what is left of the trimmed weight"),
    MeasureKind.COOK_TIME: N_("Cook time: from on to off"),
    MeasureKind.TIME_TO_CORE: N_("Time to a core temperature"),
    MeasureKind.SCORE: N_("Score: what tasters give"),
    MeasureKind.MEASURED: N_("Measured on the piece, in a unit"),
}


def step_message(step: NextStep, cook: CookStand | None) -> Message:
    """Return what is to be done now, in words."""
    name = cook.cook.name if cook else ""
    match step:
        case NextStep.DRAW:
            return N_("Draw who gets what; then it can be cooked.")
        case NextStep.REGISTER:
            return N_(
                "It is drawn. Register the plan before anything is seen, then begin the cook."
            )
        case NextStep.SET_UP_COOK:
            return N_("Set up the first cook of this trial.")
        case NextStep.PLAN_DAY:
            return N_(
                "The plan is registered. Say when it shall be served: you get the times of the "
                "day, a sheet to print, and reminders."
            )
        case NextStep.ADD_PIECES:
            return N_(
                "Say which pieces the cook %(cook)s has, and which arm each of them got.", cook=name
            )
        case NextStep.PUT_ON:
            waiting = len(cook.in_stand(Stand.WAITING)) if cook else 0
            return NN_(
                "Weigh it raw, then put it on: %(count)s piece is waiting.",
                "Weigh them raw, then put them on: %(count)s pieces are waiting.",
                waiting,
            )
        case NextStep.TEND:
            on = len(cook.in_stand(Stand.ON, Stand.WRAPPED)) if cook else 0
            return NN_(
                "Tend the fire and record what you do: %(count)s piece is on.",
                "Tend the fire and record what you do: %(count)s pieces are on.",
                on,
            )
        case NextStep.REST:
            return N_("Record the hold, weigh each piece as it comes off, and slice.")
        case NextStep.END_COOK:
            return N_(
                "Everything is sliced. Weigh what was not weighed, then end the cook %(cook)s.",
                cook=name,
            )
        case NextStep.WEIGH:
            return N_(
                "%(cook)s has fewer than two weighings for each piece: record what was weighed.",
                cook=name,
            )
        case NextStep.LOOK:
            return N_("Every cook has ended. Look at the finding, or cook once more.")


KIND_NAMES = {
    "cook": N_("A cook"),
    "piece": N_("Piece"),
    "placement": N_("Probe in its place"),
    "event": N_("Event"),
    "weighing": N_("Weighing"),
    "estimate": N_("Estimate"),
    "sample": N_("Sample"),
    "ballot": N_("Ballot"),
    "figure": N_("Measured figure"),
    "exclusion": N_("Left out"),
    "source": N_("Logger file"),
    "plan": N_("Plan"),
    "registration": N_("Registration"),
    "trial": N_("Trial"),
    "scale": N_("Scale"),
    "cooker": N_("Cooker"),
    "probe": N_("Probe"),
    "taster": N_("Taster"),
    "kitchen": N_("Kitchen"),
    "known_layout": N_("Known layout"),
}
"""The kinds of record, by the notebook's own names."""
