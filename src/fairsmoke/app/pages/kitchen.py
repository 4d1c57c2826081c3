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
from fairsmoke.quantity import (
    METRIC,
    US,
    Units,
    parse_mass,
    parse_temperature_difference,
    show_temperature_difference,
)
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
        probes=[(one, _probe_shown(one, page.way.units)) for one in book.list(Probe)],
        scales=[(one, _scale_shown(one)) for one in book.list(Scale)],
    )


def _probe_shown(probe: Probe, units: Units) -> dict[str, str]:
    """Return what a probe's form shows: differences in the unit that its display has."""
    own = METRIC if probe.unit == "°C" else US if probe.unit == "°F" else units
    written = {key: str(value) for key, value in probe.to_file().items()}
    for key, value in (("accuracy", probe.accuracy_k), ("offset", probe.offset_k)):
        for digits in (0, 1, 2):
            shown = show_temperature_difference(value, own, digits)
            # Rounded only where that says the same to what any probe can tell.
            if key in written and abs(parse_temperature_difference(shown) - value) < _SAME_K:
                written[key] = shown
                break
    return written


def _scale_shown(scale: Scale) -> dict[str, str]:
    """Return what a scale's form shows: small masses in grams or ounces, as its unit is."""
    written = {key: str(value) for key, value in scale.to_file().items()}
    step = _STEPS.get(scale.unit or "")
    masses = {
        "resolution": scale.resolution_kg,
        "repeatability": scale.repeatability_kg,
        "max_error": scale.max_error_kg,
    }
    for key, value in masses.items():
        if key in written and step is not None:
            shown = f"{value / parse_mass(f'1 {step}'):.6g} {step}"
            if abs(parse_mass(shown) - value) < _SAME_KG:
                written[key] = shown
    return written


_STEPS = {"kg": "g", "g": "g", "lb": "oz", "oz": "oz"}
"""The small unit: steps of a scale that shows kilograms or pounds are grams or ounces."""
_SAME_K, _SAME_KG = 1e-9, 1e-12


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
    step = _STEPS.get(unit) or ("g" if page.way.units.mass == "kg" else "oz")
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
