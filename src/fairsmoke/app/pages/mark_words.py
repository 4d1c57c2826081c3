"""The words for where a piece stands in its protocol, and for what comes next."""

from datetime import datetime
from zoneinfo import ZoneInfo

from fairsmoke.app.pages.words import ACTS
from fairsmoke.live.snapshot import PieceNow, next_acts
from fairsmoke.live.stages import Mark
from fairsmoke.messages.message import N_, Message
from fairsmoke.telling.reader import Reader


def mark_messages(piece: PieceNow, way: Reader, zone: ZoneInfo, now: datetime) -> list[Message]:
    """Return each thing that ends the piece's present stage, with how far it is from it."""
    return [_mark(mark, piece, way, zone, now) for mark in piece.stage.marks]


def _mark(mark: Mark, piece: PieceNow, way: Reader, zone: ZoneInfo, now: datetime) -> Message:
    condition = mark.condition
    if condition.core_c is not None:
        level = way.temperature(condition.core_c)
        if mark.met is not None:
            return N_(
                "core %(level)s: reached at %(time)s", level=level, time=way.time(mark.met, zone)
            )
        core_c = piece.core[0].value_c if piece.core else None
        if core_c is None:
            return N_("core %(level)s", level=level)
        gap = way.gap(condition.core_c - core_c)
        return N_("core %(level)s: %(gap)s to go", level=level, gap=gap)
    if mark.due is not None:
        time = way.time(mark.due, zone)
        if mark.met is not None:
            return N_("%(time)s: reached", time=time)
        left = way.minutes((mark.due - now).total_seconds())
        return N_("%(time)s: in %(left)s", time=time, left=left)
    return N_("by feel: %(feel)s", feel=condition.feel or "")


def then_message(piece: PieceNow) -> Message | None:
    """Return what is to be done next, or which stage begins by itself."""
    acts = next_acts(piece)
    if not piece.stage.runs:
        return N_("first: %(act)s", act=ACTS[acts[0]]) if acts else None
    if acts:
        now = piece.stage.reached is not None
        act = ACTS[acts[0]]
        return N_("now: %(act)s", act=act) if now else N_("then: %(act)s", act=act)
    following = piece.stage.following
    return N_("then begins: %(stage)s", stage=following.name) if following else None
