"""What a page shows of what comes in: the same texts when it is rendered and while it is open."""

import json
from collections.abc import Mapping
from datetime import datetime

from fairsmoke.arriving.hub import HubNotice, Live
from fairsmoke.messages.message import N_, NN_, Message
from fairsmoke.telling.reader import Reader
from fairsmoke.trial.clock import instant_of_ms
from fairsmoke.trial.reading import NOT_BELIEVED, Flag

FLAGS = {
    Flag.GAP_BEFORE: N_("after a gap"),
    Flag.STUCK: N_("has not moved for hours"),
    Flag.OPEN_PROBE: N_("unplugged or broken"),
    Flag.JUMP: N_("leapt further than it can"),
    Flag.CONFLICT: N_("something else was said for the same time"),
    Flag.CLOCK_STEP: N_("the clock went back"),
    Flag.LEFT_OUT: N_("left out"),
}
"""Each flag in words."""
SLIGHTLY_OFF_S = 2.0
"""A clock that is off by less is not worth a word."""


def cells(
    live: Live, show: Reader, now: datetime, cooks: Mapping[tuple[str, str], str]
) -> dict[str, str]:
    """Return the texts of one channel by the name of their place on the page."""
    last = "–" if live.last_c is None else show.temperature(live.last_c, 1)
    at = "–" if live.last_ms is None else show.time(instant_of_ms(live.last_ms))
    return {
        "last": last,
        "at": at,
        "state": show.say(_state(live, now)),
        "mark": _mark(live, now),
        "rate": show.say(
            NN_(
                "%(count)s in the last minute", "%(count)s in the last minute", live.per_minute(now)
            )
        ),
        "flagged": show.say(_flagged(live)),
        "waiting": show.say(_waiting(live)) if live.waiting else "",
        "cook": cooks.get((live.trial, live.cook), live.cook),
        "clock": show.say(_clock(live, show)),
    }


class Lines:
    """The texts of channels as JSON, made once for everybody who reads them in the same way."""

    def __init__(self) -> None:
        self._kept: dict[tuple[object, ...], dict[int, tuple[int, bool, str]]] = {}

    def of(
        self, live: Live, show: Reader, now: datetime, cooks: Mapping[tuple[str, str], str]
    ) -> str:
        """Return the texts of a channel as ``cells`` gives them, with its number."""
        way = (show.units, show.language, show.clock, show.zone.key)
        kept = self._kept.setdefault(way, {})
        silent = live.is_silent(now)
        found = kept.get(live.channel)
        # A silent one is written anew each time: it says for how long.
        if silent or found is None or found[:2] != (live.version, silent):
            text = json.dumps({"channel": live.channel, **cells(live, show, now, cooks)})
            found = kept[live.channel] = (live.version, silent, text)
        return found[2]


def told(one: HubNotice, show: Reader) -> dict[str, str]:
    """Return something that happened as texts."""
    return {"at": show.time(one.at), "who": one.who, "what": show.say(one.what)}


def _state(live: Live, now: datetime) -> Message:
    if live.received is None:
        return N_("Nothing came since the app started")
    if live.is_silent(now):
        minutes = round((now - live.received).total_seconds() / 60)
        return N_("Silent for %(minutes)s min: is it on, is its network there?", minutes=minutes)
    if live.no_value:
        return N_("Unplugged: it sends that it has no value")
    if live.last_flags & int(NOT_BELIEVED):
        why = next(text for flag, text in FLAGS.items() if flag & NOT_BELIEVED & live.last_flags)
        return N_("Not believed: %(why)s", why=why)
    return N_("Comes in")


def _mark(live: Live, now: datetime) -> str:
    """Return a sign beside the state, which says the same."""
    if live.received is None:
        return "○"
    doubtful = live.no_value or live.last_flags & int(NOT_BELIEVED)
    return "✕" if live.is_silent(now) else "!" if doubtful else "●"


def _flagged(live: Live) -> Message:
    if not live.flagged and not live.gaps:
        return N_("none")
    return N_(
        "%(flagged)s not believed, %(gaps)s after a gap, of %(all)s",
        flagged=live.flagged,
        gaps=live.gaps,
        all=live.readings,
    )


def _waiting(live: Live) -> Message:
    return NN_(
        "%(count)s reading is kept and waits", "%(count)s readings are kept and wait", live.waiting
    )


def _clock(live: Live, show: Reader) -> Message | str:
    off_s = live.clock_off_s
    if off_s is None or abs(off_s) < SLIGHTLY_OFF_S:
        return ""
    by = show.duration(round(abs(off_s)))
    return (
        N_("Its clock is %(by)s behind", by=by)
        if off_s > 0
        else N_("Its clock is %(by)s ahead", by=by)
    )
