"""A batch of readings as devices send it: JSON over HTTP, and the same over MQTT."""

import hashlib
import re
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Annotated, Literal, Self

import numpy as np
from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    ConfigDict,
    Field,
    StringConstraints,
    model_validator,
)

from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_
from fairsmoke.trial.clock import EARLIEST as EARLIEST_KEPT
from fairsmoke.trial.clock import EARLIEST_MS, LATEST, LATEST_MS
from fairsmoke.trial.reading import Readings, ReadingUnit

MOST_READINGS = 5000
"""In one batch."""
CLOCK_WITHIN = timedelta(minutes=2)
"""So far a device's clock may be off before its times are doubted."""
EARLIEST = datetime(2000, 1, 1, tzinfo=UTC)
"""A device that lost its clock usually counts from 1970 or from its maker's start."""

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_FLOAT_DECIMALS = 6
"""A number in JSON is a binary one to most senders: what lies behind is their arithmetic."""
_NUMBER = re.compile(r"-?[0-9]{1,5}(?:\.[0-9]{1,9})?")


def _whole_name(text: str) -> str:
    if not text.isprintable():
        raise InputError(N_("write a name of letters, digits and signs that can be seen"))
    return text


ChannelName = Annotated[
    str,
    StringConstraints(strip_whitespace=True, min_length=1, max_length=60),
    AfterValidator(_whole_name),
]
SentUnit = Literal["degC", "degF", "K"]


class SentReading(BaseModel):
    """One reading of one channel. Exactly one of ``at``, ``at_ms`` and ``age_s`` says when."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    channel: ChannelName = Field(description="What the device calls it: 'pit', 'probe 1'.")
    value: Annotated[float, Field(ge=-99_999, le=99_999, strict=True)] | str | None = Field(
        description="What it showed: a number, or the digits as text ('107.50'); "
        "null when the probe is unplugged.",
        union_mode="left_to_right",
    )
    unit: SentUnit | None = Field(default=None, description="When it is not the batch's.")
    at: AwareDatetime | None = Field(
        default=None, description="RFC 3339, with its offset: '2026-05-02T21:30:00.5Z'."
    )
    at_ms: Annotated[int, Field(ge=EARLIEST_MS, lt=LATEST_MS)] | None = Field(
        default=None, description="Milliseconds since 1970-01-01 UTC."
    )
    age_s: Annotated[float, Field(ge=0, le=31 * 86400, allow_inf_nan=False)] | None = Field(
        default=None, description="Seconds before it was sent, for devices without a clock."
    )

    @model_validator(mode="after")
    def _is_said_once(self) -> Self:
        if sum(one is not None for one in (self.at, self.at_ms, self.age_s)) != 1:
            raise InputError(N_("say when by one of 'at', 'at_ms' and 'age_s'"))
        # Compared here: every posted reading passes, and few files are on its way.
        if self.at is not None and not EARLIEST_KEPT <= self.at < LATEST:
            raise InputError(N_("the time lies outside the years 1900 to 2999"))
        if isinstance(self.value, str) and not _NUMBER.fullmatch(self.value):
            raise InputError(N_("write the value as digits, with a point: '107.5'"))
        return self

    def digits(self) -> tuple[int, int] | None:
        """Return the value as a whole number and its decimals, None when there is none."""
        if self.value is None:
            return None
        if isinstance(self.value, str):
            whole, _, behind = self.value.partition(".")
            return int(whole + behind), len(behind)
        exact = round(Decimal(repr(self.value)), _FLOAT_DECIMALS).normalize()
        decimals = max(0, -int(exact.as_tuple().exponent))
        return int(exact.scaleb(decimals)), decimals

    def time_ms(self, received: datetime) -> int:
        """Return when, in milliseconds since 1970 UTC."""
        if self.at_ms is not None:
            return self.at_ms
        if self.at is not None:
            return (self.at - _EPOCH) // timedelta(milliseconds=1)
        assert self.age_s is not None
        return (received - _EPOCH) // timedelta(milliseconds=1) - round(self.age_s * 1000)


class Batch(BaseModel):
    """What a device sends at once."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    id: Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9._:-]{1,80}$")] = Field(
        description="Made by the device, another for each batch: a UUID, a counter with the time "
        "it started. Sent again with the same id, nothing happens twice."
    )
    unit: SentUnit = Field(default="degC", description="Of every reading that says no other.")
    sent_at: AwareDatetime | None = Field(
        default=None, description="The device's clock when it sends: shows how far it is off."
    )
    readings: Annotated[tuple[SentReading, ...], Field(min_length=1, max_length=MOST_READINGS)]


class BatchTaken(BaseModel):
    """What became of a batch. Sending the same batch again gives the same answer."""

    id: str
    accepted_at: datetime
    readings: int = Field(description="How many were in it.")
    new: int = Field(description="How many are in the record now that were not before.")
    repeated: int = Field(description="How many were known already.")
    flagged: int = Field(description="How many of the new ones are not believed.")
    waiting: int = Field(
        description="How many are kept and wait: their channel has no name, or no cook is on."
    )
    held: int = Field(description="How many are kept and wait because a clock cannot be right.")
    no_value: int = Field(description="How many had no value.")
    unnamed: list[str] = Field(description="Channels that wait for a person to name them.")
    clock_off_s: float | None = Field(description="How far the device's clock is behind ours.")


@dataclass
class Arrived:
    """What came from one sender at once, ready to be written.

    ``parts`` are its readings by channel, in order of time, without flags; ``held`` tells why
    they wait whatever they are ("" when they do not). ``place`` is the (trial, cook) that was
    said for them, as for a file; ``probes`` what its names were said to be.
    """

    way: str
    whose: str
    sender: str
    batch: str
    digest: str
    received: datetime
    parts: dict[str, list[Readings]]
    count: int
    no_value: Counter[str] = field(default_factory=Counter)
    held: str = ""
    off_s: float | None = None
    place: tuple[str, str] | None = None
    probes: dict[str, str] = field(default_factory=dict)


def arrived(batch: Batch, way: str, whose: str, sender: str, received: datetime) -> Arrived:
    """Return a batch as it is written: by channel, in order of time."""
    rows: dict[tuple[str, ReadingUnit], list[tuple[int, int, int]]] = {}
    no_value: Counter[str] = Counter()
    last_ms = 0
    first_ms = 2**63
    for one in batch.readings:
        digits = one.digits()
        if digits is None:
            no_value[one.channel] += 1
            continue
        at_ms = one.time_ms(received)
        first_ms, last_ms = min(first_ms, at_ms), max(last_ms, at_ms)
        rows.setdefault((one.channel, one.unit or batch.unit), []).append((at_ms, *digits))
    parts: dict[str, list[Readings]] = {}
    for (channel, unit), found in rows.items():
        parts.setdefault(channel, []).append(_readings(found, unit))
    off = received - batch.sent_at if batch.sent_at else None
    return Arrived(
        way,
        whose,
        sender,
        batch.id,
        hashlib.sha256(batch.model_dump_json().encode()).hexdigest(),
        received,
        parts,
        len(batch.readings),
        no_value,
        _held(first_ms, last_ms, received, off) if rows else "",
        off.total_seconds() if off is not None else None,
    )


def _readings(found: list[tuple[int, int, int]], unit: ReadingUnit) -> Readings:
    found.sort(key=lambda row: row[0])
    decimals = max(row[2] for row in found)
    return Readings(
        np.array([row[0] for row in found], dtype=np.int64),
        np.array([row[1] * 10 ** (decimals - row[2]) for row in found], dtype=np.int64),
        decimals,
        unit,
        np.zeros(len(found), dtype=np.uint8),
    )


def _held(first_ms: int, last_ms: int, received: datetime, off: timedelta | None) -> str:
    """Return "clock MS", by how much the times would have to be moved, "" when they may be right.

    Without ``sent_at`` only times that lie ahead, or before any such device, show a wrong clock.
    """
    now_ms = (received - _EPOCH) // timedelta(milliseconds=1)
    within_ms = CLOCK_WITHIN // timedelta(milliseconds=1)
    if off is not None and abs(off) > CLOCK_WITHIN:
        return f"clock {off // timedelta(milliseconds=1)}"
    if last_ms > now_ms + within_ms or first_ms < (EARLIEST - _EPOCH) // timedelta(milliseconds=1):
        return f"clock {now_ms - last_ms}"
    return ""
