"""Draw a trial's layout, and draw it again to see whether it is the one that was drawn."""

import json
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from fairsmoke.design.draw import Wish, draw_again, draw_layout
from fairsmoke.design.estimability import one_line
from fairsmoke.design.matching import cost_of, matched_sets
from fairsmoke.messages.errors import JobError, message_of
from fairsmoke.messages.message import N_, InputField
from fairsmoke.notebook import Notebook
from fairsmoke.planning.remarks import Remark, remarks_of
from fairsmoke.telling.plan import free_line
from fairsmoke.trial.canonical import digest_of
from fairsmoke.trial.plan import AtHand, Layout, LayoutKind, Plan
from fairsmoke.trial.question import Draw, Trial
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.registration import registered_of

_SEEDS = 10**9
_ALIKE = 1e-6

_WITHIN = {
    LayoutKind.HALVES: "whole piece",
    LayoutKind.BLOCKS: "cook",
    LayoutKind.WHOLE_COOKS: "trial",
    LayoutKind.SEARCH: "cook",
}


@dataclass(frozen=True)
class DrawnPlan:
    """A layout as drawn and recorded, with what it leaves open."""

    trial: Trial
    plan: Plan
    layout: Layout
    remarks: tuple[Remark, ...]


def draw(
    notebook: Notebook,
    trial_id: str,
    *,
    kind: LayoutKind | None = None,
    swap: bool = False,
    seed: int | None = None,
    by: str = "",
    why: str = "",
) -> DrawnPlan:
    """Draw who gets what, and record it with its seed; without a seed one is made by chance.

    Raises JobError when nothing is at hand, when a layout is drawn already and no reason is given
    to throw it away, or when the plan is registered or cooking has begun.
    """
    record = notebook.load_trial(trial_id, lazy=True)
    plan = _plan_of(record)
    if record.registration is not None:
        raise JobError(
            N_("the plan is registered with its layout; a new draw would break it"),
            kind="conflict",
        )
    if record.units:
        raise JobError(N_("pieces are being cooked, so the layout stays as it is"), kind="conflict")
    if plan.layout is not None and not why.strip():
        raise JobError(
            N_(
                "a layout was drawn already, and drawing until one likes it is no draw; say why it "
                "is thrown away (%(why)s): it stays in the history, and the new one says how many "
                "were",
                why=InputField("why"),
            ),
            field="why",
        )
    arms = [arm.id for arm in record.trial.arms]
    chosen = secrets.randbelow(_SEEDS) if seed is None else seed
    layout = draw_layout(plan.at_hand, arms, chosen, Wish(kind, swap))
    free = one_line([str(clause) for clause in free_line(layout, record.trial)])
    before = _drawn_before(notebook, trial_id)
    layout = layout.model_copy(update={"free": free, "drawn_before": before})
    planned = plan.model_copy(update={"layout": layout})
    trial = record.trial.model_copy(update={"draw": _draw_record(plan.at_hand, layout)})
    notebook.save([trial, planned], trial=trial_id, by=by, why=why or "the layout was drawn")
    return DrawnPlan(trial, planned, layout, remarks_of(trial, planned))


def _plan_of(record: TrialRecord) -> Plan:
    if record.plan is None:
        raise JobError(
            N_(
                "nothing is recorded of what is at hand for “%(trial)s”: say first which pieces, "
                "places and cooks there are",
                trial=record.trial.id,
            ),
            kind="conflict",
        )
    return record.plan


def _drawn_before(notebook: Notebook, trial_id: str) -> int:
    """Count the layouts of a trial's history: one that went with other pieces was drawn as well."""
    states = (revision.body.get("layout") for revision in notebook.history(Plan, trial=trial_id))
    return len({json.dumps(layout, sort_keys=True) for layout in states if layout is not None})


def _draw_record(at_hand: AtHand, layout: Layout) -> Draw:
    if any(piece.arm is not None for piece in at_hand.pieces):
        return Draw(
            how="by hand",
            within="pair",
            seed=layout.seed,
            note="The meat is what differs; chance gave the places only.",
        )
    placed = all(slot.spot is not None for slot in layout.slots)
    within = _WITHIN.get(layout.kind, "pair")
    loose = layout.kind in (LayoutKind.SEARCH, LayoutKind.WHOLE_COOKS)
    return Draw.model_validate(
        {
            "how": "drawn",
            "within": within,
            "even": placed and not layout.swap and not loose,
            "given_to": "cooks" if layout.kind is LayoutKind.WHOLE_COOKS else "pieces",
            "seed": layout.seed,
            "note": f"{str(layout.kind).capitalize()}; {layout.algorithm}.",
        }
    )


@dataclass(frozen=True)
class Redrawn:
    """What came of drawing again: whether it is the same, and in which pieces it is not.

    ``best_matched`` is False when another choice of sets would match the pieces better, None
    where none were matched.
    """

    layout: Layout
    again: Layout
    differs: tuple[str, ...]
    best_matched: bool | None
    digest: str | None = None

    @property
    def same(self) -> bool:
        """Whether the layout is what its seed gives."""
        return not self.differs and self.best_matched is not False


def redraw(notebook: Notebook, trial_id: str) -> Redrawn:
    """Draw a trial's layout again. Raises JobError when it has none."""
    record = notebook.load_trial(trial_id, lazy=True)
    plan = _plan_of(record)
    return _again(plan, [arm.id for arm in record.trial.arms], trial_id)


def redraw_file(path: Path) -> Redrawn:
    """Draw the layout in a registered plan's file again; nothing else is needed for it.

    ``digest`` is the SHA-256 of the file. Raises JobError when it holds no drawn layout.
    """
    try:
        text = path.read_bytes().decode()
        registered = registered_of(text)
    except (UnicodeDecodeError, json.JSONDecodeError, ValueError) as error:
        raise JobError(N_("%(file)s: %(why)s", file=str(path), why=message_of(error))) from error
    if registered.plan is None:
        raise JobError(
            N_(
                "%(file)s: this registered plan has no layout, so nothing was drawn in it",
                file=str(path),
            )
        )
    arms = [arm.id for arm in registered.trial.arms]
    found = _again(registered.plan, arms, str(path))
    return Redrawn(found.layout, found.again, found.differs, found.best_matched, digest_of(text))


def _again(plan: Plan, arms: Sequence[str], where: str) -> Redrawn:
    layout = plan.layout
    if layout is None:
        raise JobError(N_("%(where)s: no layout was drawn yet; draw it first", where=where))
    again = draw_again(plan.at_hand, arms, layout)
    differs = [slot.piece for slot in layout.slots if again.slot_of(slot.piece) != slot]
    differs += [slot.piece for slot in again.slots if layout.slot_of(slot.piece) is None]
    return Redrawn(layout, again, tuple(differs), _best_matched(plan.at_hand, layout))


def _best_matched(at_hand: AtHand, layout: Layout) -> bool | None:
    if layout.kind not in (LayoutKind.MATCHED, LayoutKind.LATIN, LayoutKind.INCOMPLETE):
        return None
    place = {piece.id: number for number, piece in enumerate(at_hand.pieces)}
    sets: dict[str, list[int]] = {}
    for slot in layout.slots:
        sets.setdefault(slot.block, []).append(place[slot.piece])
    sizes = {len(members) for members in sets.values()}
    best = matched_sets(at_hand.pieces, sizes.pop(), len(sets))
    cost = sum(cost_of(at_hand.pieces, members) for members in sets.values())
    return cost <= best.cost + _ALIKE * max(1.0, best.cost)
