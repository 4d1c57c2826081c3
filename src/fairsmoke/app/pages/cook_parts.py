"""The parts of a cook's live screen, each rendered by itself so that it can be told anew alone."""

from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

from sqlalchemy import select

from fairsmoke.app.page import Page
from fairsmoke.app.pages.alert_words import said
from fairsmoke.app.pages.mark_words import mark_messages, then_message
from fairsmoke.app.pages.words import ACTS, STANDS
from fairsmoke.app.running_cooks import View
from fairsmoke.arriving.hand_reading import LIKELY_C
from fairsmoke.live.alerts import is_silent
from fairsmoke.live.snapshot import CookNow, PieceNow, next_acts, spot_names
from fairsmoke.live.trial_status import Stand
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.app_tables import ATTACHMENT, ENTRY
from fairsmoke.telling.curve_data import Tick, clock_changes
from fairsmoke.telling.record_words import EVENTS
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.cook import Cooker, EventKind
from fairsmoke.trial.probe import MEASURED
from fairsmoke.trial.protocol import Wrap

_USUAL = {
    Stand.WAITING: (EventKind.ON,),
    Stand.ON: (EventKind.WRAP, EventKind.SPRITZ, EventKind.PULL),
    Stand.WRAPPED: (EventKind.PULL, EventKind.UNWRAP),
    Stand.OFF: (EventKind.HOLD, EventKind.SLICE),
    Stand.HELD: (EventKind.HOLD_END, EventKind.SLICE),
    Stand.OUT_OF_HOLD: (EventKind.SLICE,),
    Stand.SLICED: (),
}
"""What is usually done with a piece that has come so far."""

OTHER_EVENTS = (
    EventKind.NOTE,
    *(
        kind
        for kind in EventKind
        if kind not in (EventKind.NOTE, EventKind.RAISE, EventKind.LOWER, EventKind.MOVED)
    ),
)
"""What one form takes: a note first; the rest has forms of its own."""

MOST_EVENTS = 40


def usual_acts(piece: PieceNow) -> tuple[EventKind, ...]:
    """Return the buttons of a piece: what its protocol says next, then what is usual."""
    usual = _USUAL[piece.stand.stand]
    if not _is_wrapped_later(piece):
        # An arm that stays bare is not offered a wrap; the form for everything else has it.
        usual = tuple(act for act in usual if act is not EventKind.WRAP)
    return tuple(dict.fromkeys((*planned_act(piece), *usual)))


def planned_act(piece: PieceNow) -> tuple[EventKind, ...]:
    """Return what its protocol says is to be done with a piece itself next, if anything."""
    of_pit = (EventKind.RAISE, EventKind.LOWER)
    return tuple(act for act in next_acts(piece)[:1] if act not in of_pit)


def _is_wrapped_later(piece: PieceNow) -> bool:
    now = piece.stage.stage
    begun = piece.stage.stages.index(now) if now else 0
    return any(stage.wrap != Wrap() for stage in piece.stage.stages[begun:])


def around(page: Page, book: Notebook, view: View) -> dict[str, Any]:
    """Return what the whole page and each part of it are given."""
    now = view.now
    zone = time_zone(now.cook.time_zone)
    cookers = book.list(Cooker)
    return {
        "trial": now.trial,
        "cook": now.cook,
        "view": view,
        "now": now.at,
        "zone": zone,
        "arms": {arm.id: arm.name for arm in now.trial.arms},
        "spots": _spots([one for one in cookers if one.id in now.cook.cookers]),
        "names": {one.piece.id: one.piece.name for one in now.pieces},
        "probe_names": {one.probe.id: one.probe.name for one in now.probes}
        | {one.id: one.name for one in now.idle},
        "stands": STANDS,
        "acts": ACTS,
        "events": EVENTS,
        "measured": MEASURED,
        "other_events": OTHER_EVENTS,
        "usual_acts": usual_acts,
        "planned_act": planned_act,
        "marks": lambda piece: mark_messages(piece, page.way, zone, now.at),
        "then": then_message,
        "silent": lambda probe: is_silent(probe, now.at, view.watch),
        "new_id": lambda: str(uuid4()),
        "ended": now.cook.ends is not None,
        "likely": LIKELY_C,
        "reads": _reads(page, now),
    }


def _reads(page: Page, now: CookNow) -> Mapping[str, str]:
    """Return the unit of a bare number for each probe: its display's own, or else the person's."""
    own = "degF" if page.way.units.temperature == "F" else "degC"
    probes = [*(one.probe for one in now.probes), *now.idle]
    return {one.id: {"°C": "degC", "°F": "degF", None: own}[one.unit] for one in probes}


def _spots(cookers: Sequence[Cooker]) -> Mapping[str, str]:
    """Return the name of each position; without its cooker, when there is only one."""
    if len(cookers) == 1:
        return {f"{cookers[0].id}/{one.id}": one.name for one in cookers[0].positions}
    return spot_names(cookers)


def parts(page: Page, book: Notebook, view: View) -> dict[str, str]:
    """Return the HTML of each part of the page that can change, by its name."""
    return parts_of(page, book, view, around(page, book, view))


def parts_of(page: Page, book: Notebook, view: View, context: Mapping[str, Any]) -> dict[str, str]:
    """Return the same, given what is around them."""
    zone = context["zone"]
    shown = [said(alert, page.way, zone) for alert in view.alerts]
    found = {
        "alerts": page.part("live/alerts.html", alerts=shown, **context),
        "pit": page.part("live/pit.html", **context),
        "events": page.part("live/events.html", **_told(book, view), **context),
    }
    for piece in view.now.pieces:
        given = {**context, "piece": piece}
        found[f"now-{piece.piece.id}"] = page.part("live/piece.html", **given)
        found[f"acts-{piece.piece.id}"] = page.part("live/acts.html", **given)
    return found


def _told(book: Notebook, view: View) -> Mapping[str, Any]:
    trial = view.now.trial.id
    latest = view.now.events[::-1][:MOST_EVENTS]
    handles = [event.id for event in latest]
    with book.reading() as connection:
        entries = connection.execute(
            select(ENTRY.c.record_id, ENTRY.c.id).where(
                ENTRY.c.trial_id == trial,
                ENTRY.c.record_kind == "event",
                ENTRY.c.record_id.in_(handles),
                ENTRY.c.kind == "event",
            )
        ).all()
        pictures = connection.execute(
            select(ATTACHMENT.c.event, ATTACHMENT.c.sha256)
            .where(ATTACHMENT.c.trial_id == trial, ATTACHMENT.c.event.in_(handles))
            .order_by(ATTACHMENT.c.id)
        ).all()
    photos: dict[str, list[str]] = {}
    for event, sha256 in pictures:
        photos.setdefault(event, []).append(sha256)
    return {
        "latest": latest,
        "more": len(view.now.events) - len(latest),
        "entries": {row[0]: row[1] for row in entries},
        "photos": photos,
    }


def _clock_changes(view: View, zone: ZoneInfo) -> list[Tick]:
    """Return where the clocks were changed within the curve."""
    times, starts = view.curve.times, view.now.cook.starts
    if not times:
        return []
    low, high = ((at - starts).total_seconds() / 3600.0 for at in (times[0], times[-1]))
    return list(clock_changes(starts, low, high, zone))


def curve_content(page: Page, view: View) -> dict[str, Any]:
    """Return the curve in the person's unit and words, for the script that draws it."""
    cook = view.now.cook
    zone = time_zone(cook.time_zone)
    pieces = {one.piece.id: one.piece.name for one in view.now.pieces}
    levels = [
        mark.condition.core_c
        for piece in view.now.pieces
        for mark in piece.stage.marks
        if mark.condition.core_c is not None and mark.met is None
    ]
    return {
        "unit": f"°{page.way.units.temperature}",
        "times": [int(at.timestamp()) for at in view.curve.times],
        "clock": [page.way.time(at, zone) for at in view.curve.times],
        "changes": [
            {
                "at": int((cook.starts + timedelta(hours=one.hours)).timestamp()),
                "words": page.way.say(one.clock),
            }
            for one in _clock_changes(view, zone)
        ],
        "levels": sorted({page.way.degrees(level) for level in levels}),
        "lines": [
            {
                "name": pieces.get(one.probe.placement.piece or "", one.probe.probe.name),
                "what": page.way.say(MEASURED[one.probe.placement.measures]),
                "probe": one.probe.probe.name,
                "core": one.probe.placement.measures in ("core", "surface"),
                "values": [
                    None if value is None else page.way.degrees(value) for value in one.values_c
                ],
            }
            for one in view.curve.lines
        ],
    }
