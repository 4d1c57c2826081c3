"""Record what is at hand for a trial: its pieces, places, cooks, tasters and prices."""

from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_
from fairsmoke.notebook import Notebook
from fairsmoke.trial.cook import Piece
from fairsmoke.trial.plan import AtHand, Plan
from fairsmoke.trial.registration import Registration

_NOT_DRAWN_WITH = ("tasters", "blind", "price_piece", "price_cook", "currency")
"""What a layout does not rest on, so that it stays when only these change."""

_WHY = "what is at hand was changed while the trial was planned"


def throws_layout_away(plan: Plan | None, at_hand: AtHand) -> bool:
    """Tell whether a layout was drawn that does not fit what would be at hand."""
    if plan is None or plan.layout is None:
        return False
    same = {name: getattr(plan.at_hand, name) for name in _NOT_DRAWN_WITH}
    return at_hand.model_copy(update=same) != plan.at_hand


def record_at_hand(
    notebook: Notebook,
    trial_id: str,
    at_hand: AtHand,
    leave_out: tuple[str, ...],
    *,
    by: str = "",
    why: str = "",
) -> Plan:
    """Record it; a layout drawn for other pieces, places or cooks is thrown away.

    Such a layout stays in the history, and the next draw counts it. Raises JobError when that is
    not told with a reason, when the plan is registered, or when cooking has begun.
    """
    if notebook.list(Registration, trial=trial_id):
        raise JobError(
            N_(
                "the plan is registered, so what was at hand stands; tell what is done otherwise "
                "in "
                "an amendment"
            ),
            kind="conflict",
        )
    if notebook.list(Piece, trial=trial_id):
        raise JobError(N_("pieces are being cooked, so what was at hand stays"), kind="conflict")
    before = next(iter(notebook.list(Plan, trial=trial_id)), None)
    thrown = throws_layout_away(before, at_hand)
    if thrown and not why.strip():
        raise JobError(
            N_("a layout was drawn for what was at hand, and it would be thrown away; say why"),
            field="why",
        )
    plan = Plan(
        at_hand=at_hand,
        layout=None if before is None or thrown else before.layout,
        leave_out=leave_out,
        note="" if before is None else before.note,
    )
    notebook.save(plan, trial=trial_id, by=by, why=why or _WHY)
    return plan
