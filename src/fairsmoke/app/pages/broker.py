"""The broker from which readings come by MQTT: its address, and whether it is there."""

import re
from typing import Annotated, Literal

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from fairsmoke.app.auth import Book, SettingUp
from fairsmoke.app.page import OnPage
from fairsmoke.app.pages.readings import ways
from fairsmoke.app.problems import AppError
from fairsmoke.arriving.broker import PORT, TLS_PORT, TOPIC, Broker, keep_broker, kept_broker
from fairsmoke.arriving.mqtt import MqttWay
from fairsmoke.messages.message import N_

router = APIRouter()
_HOST = re.compile(r"[A-Za-z0-9._:-]{1,253}")
_TOPIC = re.compile(r"[^/+#\s]{1,60}(/[^/+#\s]{1,60}){0,4}")


async def _way(request: Request) -> MqttWay:
    found: MqttWay = request.app.state.mqtt
    return found


OnMqtt = Annotated[MqttWay, Depends(_way)]


@router.get("/readings/broker", name="broker")
def broker_page(page: OnPage, way: OnMqtt, _: SettingUp) -> HTMLResponse:
    """Show the broker and whether it is there."""
    return page.show(
        "broker.html",
        ways=ways(page),
        broker=way.broker(),
        fixed=way.told is not None,
        state=way.state,
        topic=TOPIC,
    )


@router.post("/readings/broker", name="set_broker")
async def set_broker(
    page: OnPage,
    book: Book,
    way: OnMqtt,
    person: SettingUp,
    host: Annotated[str, Form(max_length=300)] = "",
    port: Annotated[str, Form(max_length=5)] = "",
    user: Annotated[str, Form(max_length=200)] = "",
    password: Annotated[str, Form(max_length=1000)] = "",
    tls: Annotated[Literal["yes", "no"], Form()] = "no",
    topic: Annotated[str, Form(max_length=300)] = TOPIC,
) -> RedirectResponse:
    """Keep the broker's address, or none; the connection is made anew."""
    if way.told is not None:
        message = N_("The broker was given when the app was started; change it there.")
        raise AppError(422, "told", message)
    chosen = _chosen(host.strip(), port.strip(), user.strip(), password, tls, topic.strip("/ "))
    with book.transaction(by=person.name) as transaction:
        before = kept_broker(transaction.connection)
        if chosen is not None and before is not None and not password:
            # An empty field keeps the password, but never sends it to another address.
            same = (before.host, before.port, before.user) == (
                chosen.host,
                chosen.port,
                chosen.user,
            )
            if same:
                chosen = Broker(**{**vars(chosen), "password": before.password})
        keep_broker(transaction, chosen)
    way.change()
    return page.go("broker")


def _chosen(host: str, port: str, user: str, password: str, tls: str, topic: str) -> Broker | None:
    if not host:
        return None
    if not _HOST.fullmatch(host):
        raise AppError(422, "host", N_("Write the broker's name or number, without a port."))
    number = int(port) if port.isascii() and port.isdigit() else 0
    if port and not 0 < number < 65536:
        raise AppError(422, "port", N_("Write the port as a number from 1 to 65535."))
    if not _TOPIC.fullmatch(topic or TOPIC):
        raise AppError(422, "topic", N_("Write the topic without +, # and spaces."))
    secure = tls == "yes"
    return Broker(
        host,
        number or (TLS_PORT if secure else PORT),
        user,
        password,
        secure,
        topic or TOPIC,
    )
