"""What belongs to the whole notebook: whose it is, its clock and units, the layouts it knows."""

from typing import Annotated, Literal

from pydantic import Field

from fairsmoke.trial.base import Id, Instant, Name, Record, Text, ZoneName


class Kitchen(Record):
    """Whose notebook it is, where its clocks are, and in which units it shows things."""

    name: Name
    time_zone: ZoneName = "UTC"
    units: Literal["metric", "us"] = "metric"
    invented: bool = False
    note: Text = ""


class KnownLayout(Record):
    """How the columns of one logger's files are read, once a person has confirmed it.

    ``id`` is the digest of the layout, ``mapping`` the reader's own text of it.
    """

    id: Id
    name: Name
    mapping: Annotated[Text, Field(min_length=1)]
    confirmed: Instant
    by: Text = ""
