"""The words of pages for what the rooms below name by code."""

from fairsmoke.app.text.messages import N_, NN_, Message
from fairsmoke.jobs.standing import CookStand, Stand, Step

STANDS = {
    Stand.WAITING: N_("Not on yet"),
    Stand.ON: N_("On the cooker"),
    Stand.WRAPPED: N_("On, wrapped"),
    Stand.OFF: N_("Off the cooker"),
    Stand.HELD: N_("In the hold"),
    Stand.OUT_OF_HOLD: N_("Out of the hold"),
    Stand.SLICED: N_("Sliced"),
}


def step_message(step: Step, cook: CookStand | None) -> Message:
    """Return what is to be done now, in words."""
    name = cook.cook.name if cook else ""
    match step:
        case Step.SET_UP_COOK:
            return N_("Set up the first cook of this trial.")
        case Step.ADD_PIECES:
            return N_(
                "Say which pieces the cook %(cook)s has, and which arm each of them got.", cook=name
            )
        case Step.PUT_ON:
            waiting = len(cook.in_stand(Stand.WAITING)) if cook else 0
            return NN_(
                "Weigh it raw, then put it on: %(count)s piece is waiting.",
                "Weigh them raw, then put them on: %(count)s pieces are waiting.",
                waiting,
            )
        case Step.TEND:
            on = len(cook.in_stand(Stand.ON, Stand.WRAPPED)) if cook else 0
            return NN_(
                "Tend the fire and record what you do: %(count)s piece is on.",
                "Tend the fire and record what you do: %(count)s pieces are on.",
                on,
            )
        case Step.REST:
            return N_("Record the hold, weigh each piece as it comes off, and slice.")
        case Step.END_COOK:
            return N_(
                "Everything is sliced. Weigh what was not weighed, then end the cook %(cook)s.",
                cook=name,
            )
        case Step.WEIGH:
            return N_(
                "%(cook)s has fewer than two weighings for each piece: record what was weighed.",
                cook=name,
            )
        case Step.LOOK:
            return N_("Every cook has ended. Look at the finding, or cook once more.")
