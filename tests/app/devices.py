"""What a device sends, and a trial with a cook that is on now, for the tests of what comes in."""

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

from tests.app.clients import TRIAL, Client

from fairsmoke.app.people import devices, register
from fairsmoke.notebook import Notebook
from fairsmoke.trial.cook import Cook
from fairsmoke.trial.probe import Placement, Probe

NOW_COOK = "now-fire"


def start_cook(book: Notebook, *, probes: tuple[str, ...] = (), hours: float = 2.0) -> datetime:
    """Record a cook that began some hours ago and goes on; return when it began."""
    starts = (datetime.now(UTC) - timedelta(hours=hours)).replace(microsecond=0)
    cook = Cook(
        id=NOW_COOK, name="Now", time_zone="Europe/London", starts=starts, cookers=("barrel",)
    )
    book.save(cook, trial=TRIAL)
    for probe in probes:
        book.save(Probe(id=probe, name=f"The probe {probe}"))
    return starts


def place(book: Notebook, probe: str, since: datetime, measures: str = "pit") -> None:
    """Record where a probe is."""
    book.save(
        Placement.model_validate(
            {
                "id": f"{probe}-stays",
                "cook": NOW_COOK,
                "probe": probe,
                "since": since,
                "measures": measures,
            }
        ),
        trial=TRIAL,
    )


def device(book: Notebook, name: str = "Logger by the door") -> str:
    """Add a device and return its token."""
    with book.transaction() as transaction:
        cook = register.first_cook(transaction)
        return devices.add(transaction, name, cook)[1]


def batch(*readings: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {"id": str(uuid4()), "readings": list(readings), **more}


def reading(channel: str, value: Any, at: datetime) -> dict[str, Any]:
    return {"channel": channel, "value": value, "at": at.isoformat()}


def send(client: Client, token: str, content: object):  # type: ignore[no-untyped-def]
    return client.post("/api/readings", json=content, headers={"Authorization": f"Bearer {token}"})
