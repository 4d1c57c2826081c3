"""The kitchen's things: cookers with their positions, probes, scales."""

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, RedirectResponse

from fairsmoke.app.auth import Book, SettingUp
from fairsmoke.app.entries.consistency import WHY
from fairsmoke.app.navigation import NavigationLink
from fairsmoke.app.page import OnPage
from fairsmoke.app.people.permissions import May
from fairsmoke.app.set_up.fields import free_handle, given, handle_from, with_unit
from fairsmoke.messages.message import N_
from fairsmoke.notebook.kinds import KINDS
from fairsmoke.notebook.rows import load_records
from fairsmoke.trial.cook import Cooker
from fairsmoke.trial.probe import Probe
from fairsmoke.trial.weighing import Scale

router = APIRouter()
PLACES = (NavigationLink(N_("Kitchen"), "kitchen", "notebook", 10, May.SET_UP),)

Short = Annotated[str, Form(max_length=200)]
Long = Annotated[str, Form(max_length=4000)]
Handle = Annotated[str, Form(max_length=60)]


@router.get("/kitchen", name="kitchen")
def kitchen_page(page: OnPage, book: Book, _: SettingUp) -> HTMLResponse:
    """Show the kitchen's things, each with a form to change it."""
    return page.show(
        "kitchen.html",
        cookers=book.list(Cooker),
        probes=[(one, one.to_file()) for one in book.list(Probe)],
        scales=[(one, one.to_file()) for one in book.list(Scale)],
    )


@router.post("/kitchen/cookers", name="keep_cooker")
def keep_cooker(
    page: OnPage,
    book: Book,
    person: SettingUp,
    name: Short,
    positions: Long,
    fuel: Short = "",
    note: Long = "",
    handle: Handle = "",
) -> RedirectResponse:
    """Add a cooker, or change one; a position that keeps its name keeps its handle."""
    with book.transaction(by=person.name) as transaction:
        before = {
            position.name: position
            for one in load_records(transaction.connection, KINDS["cooker"], "")
            if isinstance(one, Cooker) and one.id == handle
            for position in one.positions
        }
        taken = {position.id for position in before.values()}
        places = []
        for line in dict.fromkeys(line.strip() for line in positions.splitlines() if line.strip()):
            if line in before:
                places.append(before[line].model_dump())
                continue
            new = handle_from(line, taken, "place")
            taken.add(new)
            places.append({"id": new, "name": line})
        cooker = Cooker.model_validate(
            given(
                id=handle or free_handle(transaction.connection, "cooker", "", name),
                name=name,
                fuel=fuel,
                note=note,
            )
            | {"positions": places}
        )
        transaction.save(cooker, why=WHY)
    return page.go("kitchen")


@router.post("/kitchen/probes", name="keep_probe")
def keep_probe(
    page: OnPage,
    book: Book,
    person: SettingUp,
    name: Short,
    accuracy: Short = "",
    offset: Short = "",
    unit: Short = "",
    note: Long = "",
    handle: Handle = "",
) -> RedirectResponse:
    """Add a probe, or change one."""
    shows = unit or f"°{page.way.units.temperature}"
    differences = "K" if shows == "°C" else "°F"
    with book.transaction(by=person.name) as transaction:
        probe = Probe.from_file(
            given(
                id=handle or free_handle(transaction.connection, "probe", "", name),
                name=name,
                accuracy=with_unit(accuracy.strip(), differences),
                offset=with_unit(offset.strip(), differences),
                unit=unit,
                note=note,
            )
        )
        transaction.save(probe, why=WHY)
    return page.go("kitchen")


@router.post("/kitchen/scales", name="keep_scale")
def keep_scale(
    page: OnPage,
    book: Book,
    person: SettingUp,
    name: Short,
    resolution: Short,
    repeatability: Short = "",
    max_error: Short = "",
    unit: Short = "",
    note: Long = "",
    handle: Handle = "",
) -> RedirectResponse:
    """Add a scale, or change one."""
    # The small unit: steps of a scale that shows kilograms or pounds are grams or ounces.
    small = {"kg": "g", "g": "g", "lb": "oz", "oz": "oz"}
    step = small.get(unit) or ("g" if page.way.units.mass == "kg" else "oz")
    with book.transaction(by=person.name) as transaction:
        scale = Scale.from_file(
            given(
                id=handle or free_handle(transaction.connection, "scale", "", name),
                name=name,
                resolution=with_unit(resolution.strip(), step),
                repeatability=with_unit(repeatability.strip(), step),
                max_error=with_unit(max_error.strip(), step),
                unit=unit,
                note=note,
            )
        )
        transaction.save(scale, why=WHY)
    return page.go("kitchen")
