"""Devices that send readings: making a token, which is shown once, and withdrawing it."""

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, RedirectResponse
from markupsafe import Markup

from fairsmoke.app.auth import Book, KnownDevices, SettingUp
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.people import address_of
from fairsmoke.app.pages.readings import ways
from fairsmoke.app.people import devices
from fairsmoke.app.tls.reach import qr_svg

router = APIRouter()


@router.get("/readings/devices", name="devices")
def list_devices(page: OnPage, book: Book, _: SettingUp) -> HTMLResponse:
    """List the devices whose tokens work."""
    with book.reading() as connection:
        found = devices.devices(connection)
    return page.show("devices.html", ways=ways(page), devices=found)


@router.post("/readings/devices", name="add_device")
def add_device(
    page: OnPage, book: Book, person: SettingUp, name: Annotated[str, Form(max_length=200)]
) -> HTMLResponse:
    """Make a token for a device, and show it: only now, as it is not kept."""
    with book.transaction(by=person.name) as transaction:
        device, token = devices.add(transaction, name, person)
    address = address_of(page.request, page.path("send_readings"))
    return page.show(
        "device_token.html",
        ways=ways(page),
        device=device,
        token=token,
        address=address,
        qr=Markup(qr_svg(f"{address}\n{token}")),
    )


@router.post("/readings/devices/{number}/end", name="end_device")
def end_device(page: OnPage, book: Book, person: SettingUp, number: int) -> RedirectResponse:
    """Withdraw a device's token; what it sent stays."""
    with book.transaction(by=person.name) as transaction:
        devices.end(transaction, number)
    known: KnownDevices = page.request.app.state.devices
    known.forget()
    return page.go("devices")
