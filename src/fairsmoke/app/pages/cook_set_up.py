"""Setting a cook up: when, in which cookers, which pieces with which arm, and who stands where."""

from datetime import UTC, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, RedirectResponse

from fairsmoke.app.auth import Book, SettingUp
from fairsmoke.app.entries.consistency import WHY, set_up
from fairsmoke.app.forms import FormFields
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage, Page
from fairsmoke.app.pages.path_lookup import FoundCook, FoundTrial
from fairsmoke.app.people.permissions import May
from fairsmoke.app.problems import AppError
from fairsmoke.app.set_up.fields import Fields, free_handle, given, with_unit
from fairsmoke.live.snapshot import spot_names
from fairsmoke.messages.message import N_
from fairsmoke.quantity import Units, parse_length, show_length
from fairsmoke.trial.clock import Which, parse_instant, time_zone
from fairsmoke.trial.cook import Cook, Cooker, Piece

_LENGTHS = ("length", "width", "thick", "thin", "fat_cap")

router = APIRouter()
PLACES = (NavigationLink(N_("Set-up"), "cook_set_up", "cook", 20, May.SET_UP),)

SPECIES = {
    "pork": N_("pork"),
    "beef": N_("beef"),
    "lamb": N_("lamb"),
    "turkey": N_("turkey"),
    "chicken": N_("chicken"),
    "other": N_("other"),
}
Moment = Annotated[str, Form(max_length=40)]
Hour = Annotated[Which, Form()]
Short = Annotated[str, Form(max_length=200)]
Long = Annotated[str, Form(max_length=4000)]


@router.get("/trials/{trial}/new-cook", name="cook_new")
def new_cook(page: OnPage, trial: FoundTrial, book: Book, _: SettingUp) -> HTMLResponse:
    """Ask for a new cook."""
    return page.show(
        "cook_new.html",
        trial=trial,
        cookers=book.list(Cooker),
        zone=page.way.zone,
        starts=datetime.now(UTC),
    )


@router.post("/trials/{trial}/new-cook", name="start_cook")
def start_cook(
    page: OnPage,
    trial: FoundTrial,
    book: Book,
    person: SettingUp,
    name: Short,
    cookers: Annotated[list[str] | None, Form()] = None,
    starts: Moment = "",
    hour: Hour = "",
    weather: Short = "",
    note: Long = "",
) -> RedirectResponse:
    """Record a new cook, by the clocks of the kitchen."""
    zone = page.kitchen.time_zone if page.kitchen else "UTC"
    with set_up(book, person.name, trial.id) as transaction:
        cook = Cook.model_validate(
            {
                "id": free_handle(transaction.connection, "cook", trial.id, name),
                "name": name,
                "time_zone": zone,
                "starts": _moment(starts, zone, hour) or datetime.now(UTC).replace(microsecond=0),
                "cookers": _some(cookers),
                "weather": weather,
                "note": note,
            }
        )
        transaction.save(cook, trial=trial.id)
    return page.go("cook_set_up", trial=trial.id, cook=cook.id)


@router.get("/trials/{trial}/cooks/{cook}/set-up", name="cook_set_up")
def set_up_page(
    page: OnPage, trial: FoundTrial, cook: FoundCook, book: Book, _: SettingUp
) -> HTMLResponse:
    """Show a cook's set-up, with a form for each piece and for one more."""
    pieces = book.list(Piece, trial=trial.id)
    cookers = book.list(Cooker)
    return page.show(
        "cook_set_up.html",
        trial=trial,
        cook=cook,
        zone=time_zone(cook.time_zone),
        cookers=cookers,
        spots=spot_names([one for one in cookers if one.id in cook.cookers]),
        pieces=[one for one in pieces if one.cook == cook.id],
        wholes=[one for one in pieces if one.arm is None],
        written={one.id: _written(one, page.way.units) for one in pieces},
        species=SPECIES,
        likely=_likely(pieces),
    )


@router.post("/trials/{trial}/cooks/{cook}/set-up", name="change_cook")
def change_cook(
    page: OnPage,
    trial: FoundTrial,
    cook: FoundCook,
    book: Book,
    person: SettingUp,
    name: Short,
    cookers: Annotated[list[str] | None, Form()] = None,
    starts: Moment = "",
    hour: Hour = "",
    weather: Short = "",
    note: Long = "",
) -> RedirectResponse:
    """Change a cook; what stood there stays in the history."""
    given_start = _moment(starts, cook.time_zone, hour)
    same = given_start is None or abs((given_start - cook.starts).total_seconds()) < 60
    with set_up(book, person.name, trial.id) as transaction:
        changed = Cook.model_validate(
            {
                **cook.model_dump(),
                "name": name,
                "starts": cook.starts if same else given_start,
                "cookers": _some(cookers),
                "weather": weather,
                "note": note,
            }
        )
        transaction.save(changed, trial=trial.id, why=WHY)
    return page.go("cook_set_up", trial=trial.id, cook=cook.id)


@router.post("/trials/{trial}/cooks/{cook}/pieces", name="keep_piece")
def keep_piece(
    page: OnPage,
    sent: FormFields,
    trial: FoundTrial,
    cook: FoundCook,
    book: Book,
    person: SettingUp,
) -> RedirectResponse:
    """Add a piece to a cook, or change one."""
    fields = {name: value.strip() for name, value in sent}
    handle = fields.get("handle", "")
    with set_up(book, person.name, trial.id) as transaction:
        if handle:
            before = transaction.get(Piece, handle, trial=trial.id).model_dump()
        else:
            name = fields.get("name", "")
            before = {"id": free_handle(transaction.connection, "piece", trial.id, name)}
        piece = Piece.model_validate({**before, **_piece(page, fields, cook)})
        transaction.save(piece, trial=trial.id, why=WHY)
    return page.go("cook_set_up", trial=trial.id, cook=cook.id)


@router.post("/trials/{trial}/cooks/{cook}/pieces/{piece}/strike", name="strike_piece")
def strike_piece(
    page: OnPage, trial: FoundTrial, cook: FoundCook, book: Book, person: SettingUp, piece: str
) -> RedirectResponse:
    """Strike out a piece that was set up wrongly; with anything recorded of it that is refused."""
    with set_up(book, person.name, trial.id) as transaction:
        transaction.strike(Piece, piece, why="set up wrongly", trial=trial.id)
    return page.go("cook_set_up", trial=trial.id, cook=cook.id)


def _piece(page: Page, fields: Fields, cook: Cook) -> dict[str, Any]:
    cooker, _, position = fields.get("spot", "").partition("/")
    unit = page.way.units.length
    return {
        "name": fields.get("name", ""),
        "cut": fields.get("cut", ""),
        "species": fields.get("species", ""),
        "grade": fields.get("grade", ""),
        "cook": cook.id,
        "arm": fields.get("arm") or None,
        "pair": _handle(fields.get("pair", "")),
        "animal": _handle(fields.get("animal", "")),
        "half_of": fields.get("half_of") or None,
        "side": fields.get("side", ""),
        "spot": {"cooker": cooker, "position": position} if position else None,
        "injected": fields.get("injected") == "yes",
        "note": fields.get("note", ""),
        **{
            f"{name}_m": with_unit(fields[name], unit) if fields.get(name) else None
            for name in _LENGTHS
        },
    }


def _handle(text: str) -> str | None:
    """Return what somebody wrote as a handle: "Pair 1" is "pair-1"."""
    return "-".join(text.lower().split()) or None


def _written(piece: Piece, units: Units) -> dict[str, Any]:
    """Return a piece as its form shows it: lengths in the person's unit where that is exact."""
    written = given(**piece.to_file())
    for name in _LENGTHS:
        value_m = getattr(piece, f"{name}_m")
        for digits in (0, 1, 2) if value_m is not None else ():
            shown = show_length(value_m, units, digits)
            if parse_length(shown) == value_m:
                written[name] = shown
                break
    return written


def _likely(pieces: tuple[Piece, ...]) -> Piece | None:
    """Return the piece set up last: the next is mostly the same cut."""
    return pieces[-1] if pieces else None


def _moment(text: str, zone: str, which: Which) -> datetime | None:
    return parse_instant(text, time_zone(zone), which) if text else None


def _some(cookers: list[str] | None) -> list[str]:
    if not cookers:
        raise AppError(422, "no-cooker", N_("Choose at least one cooker."))
    return cookers
