"""What a cook's alerts watch for."""

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, RedirectResponse

from fairsmoke.app.auth import Book, Recorder, Seer
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.path_lookup import FoundCook, FoundTrial
from fairsmoke.app.people.permissions import May
from fairsmoke.live.alert_limits import AlertThresholds, set_watch, watch_of
from fairsmoke.messages.message import N_
from fairsmoke.quantity import parse_temperature, parse_temperature_difference

router = APIRouter()
PLACES = (NavigationLink(N_("Alerts"), "cook_watch", "cook", 34, May.SEE_TRIALS),)


@router.get("/trials/{trial}/cooks/{cook}/alerts", name="cook_watch")
def watch_page(
    page: OnPage, trial: FoundTrial, cook: FoundCook, book: Book, _: Seer
) -> HTMLResponse:
    """Show the thresholds of a cook's alerts."""
    return page.show(
        "cook_watch.html",
        trial=trial,
        cook=cook,
        watch=watch_of(book, trial.id, cook.id),
        usual=AlertThresholds(),
        fahrenheit=page.way.units.temperature == "F",
    )


Number = Annotated[str, Form(max_length=12)]


@router.post("/trials/{trial}/cooks/{cook}/alerts", name="set_watch")
def change_watch(
    page: OnPage,
    trial: FoundTrial,
    cook: FoundCook,
    book: Book,
    person: Recorder,
    band: Number,
    out: Annotated[float, Form()],
    lost: Annotated[float, Form()],
    hold: Number,
    come_up: Annotated[float, Form()],
    cooled: Annotated[float, Form()],
    warn: Annotated[float, Form()],
) -> RedirectResponse:
    """Set the thresholds of a cook's alerts: temperatures in the person's unit, minutes, hours."""
    unit = f"°{page.way.units.temperature}"
    watch = AlertThresholds(
        pit_band_k=parse_temperature_difference(f"{band} {unit}"),
        pit_out_s=60 * out,
        probe_lost_s=60 * lost,
        hold_least_c=parse_temperature(f"{hold} {unit}"),
        come_up_s=3600 * come_up,
        cooled_s=3600 * cooled,
        warn_before_s=60 * warn,
    )
    with book.transaction(by=person.name) as transaction:
        set_watch(transaction, trial.id, cook.id, watch)
    return page.go("cook", trial=trial.id, cook=cook.id)
