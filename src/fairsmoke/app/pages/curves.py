"""The temperature curves of a cook: a chart to look into, its numbers as a table, a picture."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Annotated

from fastapi import APIRouter, Query
from fastapi.responses import HTMLResponse

from fairsmoke.app.auth import Book
from fairsmoke.app.charts_script import script_name
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.path_lookup import FoundTrial
from fairsmoke.app.pages.weighings import chosen_cook, newest_first
from fairsmoke.app.people.permissions import May
from fairsmoke.arriving.doubts import window
from fairsmoke.live.one_cook import one_cook
from fairsmoke.messages.message import N_
from fairsmoke.notebook import Notebook
from fairsmoke.telling.curve_data import Window, cook_curves, for_reader
from fairsmoke.trial.clock import epoch_ms, time_zone
from fairsmoke.trial.cook import Cook

router = APIRouter()
PLACES = (NavigationLink(N_("Curves"), "curves", "trial", 35, May.SEE_TRIALS),)

ROWS = 48
"""Rows of the table: a bucket each, closer ones by choosing a shorter stretch."""

_LONGEST, _SHORTEST = timedelta(days=7), timedelta(seconds=30)


@dataclass(frozen=True)
class TimeWindow:
    """The stretch of time of a cook that is looked at, and that of the whole of it."""

    since: datetime
    until: datetime
    first: datetime
    last: datetime

    def window(self, buckets: int) -> Window:
        """Return it for gathering so many buckets."""
        return Window(epoch_ms(self.since), epoch_ms(self.until), buckets)


def stretch_of(
    book: Notebook, trial: str, cook: Cook, since: datetime | None, until: datetime | None
) -> TimeWindow:
    """Return the stretch asked for, within what was recorded; the whole cook when none is."""
    found = [span for span in book.spans(trial) if span.cook == cook.id]
    # One reading with a wrong year would push everything else out of the picture.
    earliest, latest = (epoch_ms(at) for at in window(cook))
    inside = [span for span in found if span.end_ms >= earliest and span.start_ms <= latest]
    first = [_instant(max(span.start_ms, earliest)) for span in inside]
    last = [_instant(min(span.end_ms, latest)) for span in inside]
    begin = min([*first, cook.starts])
    end = max([*last, cook.ends or cook.starts, begin + timedelta(minutes=1)])
    end = min(end, begin + _LONGEST)
    low, high = max(_aware(since) or begin, begin), min(_aware(until) or end, end)
    if high - low < _SHORTEST:
        low, high = begin, end
    return TimeWindow(low, high, begin, end)


def _aware(moment: datetime | None) -> datetime | None:
    if moment is None:
        return None
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment


def _instant(ms: int) -> datetime:
    return datetime.fromtimestamp(ms / 1000, UTC)


Since = Annotated[datetime | None, Query(description="From this moment; from the beginning.")]
Until = Annotated[datetime | None, Query(description="To this moment; to the end.")]


@router.get("/trials/{trial}/curves", name="curves")
def curves_page(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    cook: Annotated[str, Query(max_length=60)] = "",
    since: Since = None,
    until: Until = None,
) -> HTMLResponse:
    """Show the curves of a cook."""
    cooks = newest_first(book.list(Cook, trial=trial.id))
    chosen = chosen_cook(cooks, cook)
    if chosen is None:
        return page.show("curves.html", trial=trial, cooks=cooks, cook=None)
    stretch = stretch_of(book, trial.id, chosen, since, until)
    record = one_cook(book, trial.id, chosen.id)
    found = cook_curves(record, chosen, stretch.window(ROWS))
    shown = for_reader(found, page.way) if found is not None else None
    return page.show(
        "curves.html",
        trial=trial,
        cooks=cooks,
        cook=chosen,
        stretch=stretch,
        shown=shown,
        whole=(stretch.since, stretch.until) == (stretch.first, stretch.last),
        zone=time_zone(chosen.time_zone),
        script=page.path("charts_script", name=script_name()),
        moves=_moves(stretch),
    )


def _moves(stretch: TimeWindow) -> dict[str, tuple[datetime, datetime]]:
    """Return the stretches that the buttons lead to, which need no script."""
    span, middle = (
        stretch.until - stretch.since,
        stretch.since + (stretch.until - stretch.since) / 2,
    )
    found = {"nearer": (middle - span / 4, middle + span / 4)}
    if span < stretch.last - stretch.first:
        low, high = max(middle - span, stretch.first), min(middle + span, stretch.last)
        found["further"] = (low, high)
        found["earlier"] = (stretch.since - span / 2, stretch.until - span / 2)
        found["later"] = (stretch.since + span / 2, stretch.until + span / 2)
    return found
