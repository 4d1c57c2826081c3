"""Weighings: what lay on which scale, written as a sum of named parts.

A part is written as a kind with a label before it: "trimmed meat", "green tray", "used wrap",
"clinging fat". The same words mean the same thing: a tray or a scale keeps its mass over a whole
trial, everything else belongs to its piece.
"""

from datetime import UTC
from enum import StrEnum
from typing import Annotated, Any, Literal, Self

from pydantic import (
    BeforeValidator,
    Field,
    PlainSerializer,
    StringConstraints,
    model_serializer,
    model_validator,
)
from pydantic_core.core_schema import SerializationInfo, SerializerFunctionWrapHandler

from fairsmoke import quantity
from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_, Message
from fairsmoke.trial.base import FileContext, Id, Instant, MassKg, Name, Record, Text
from fairsmoke.trial.clock import show_instant


class PartKind(StrEnum):
    """The kinds of thing that can lie on a scale."""

    MEAT = "meat"
    TRIM = "trim"
    RUB = "rub"
    SLATHER = "slather"
    ADDED_FAT = "added fat"
    ADDED_LIQUID = "added liquid"
    WRAP = "wrap"
    TRAY = "tray"
    DRIPPINGS = "drippings"
    CLINGING_FAT = "clinging fat"


class MeatState(StrEnum):
    """When the meat of a piece has its own mass: each state is a quantity of its own."""

    BOUGHT = "bought"
    """As it came, before any trimming."""
    TRIMMED = "trimmed"
    """Raw, trimmed, as put on: the basis of every yield."""
    COOKED = "cooked"
    """As it came off the cooker, without wrap, juices or clinging fat."""
    HELD = "held"
    """After the hold, without wrap, juices or clinging fat."""
    SERVED = "served"
    """What reached the plate: sliced or pulled, bone and waste gone."""


MEATS = {
    MeatState.BOUGHT: N_("bought meat"),
    MeatState.TRIMMED: N_("trimmed meat"),
    MeatState.COOKED: N_("cooked meat"),
    MeatState.HELD: N_("held meat"),
    MeatState.SERVED: N_("served meat"),
}
_KINDS = {
    PartKind.TRIM: N_("trim"),
    PartKind.RUB: N_("rub"),
    PartKind.SLATHER: N_("slather"),
    PartKind.ADDED_FAT: N_("added fat"),
    PartKind.ADDED_LIQUID: N_("added liquid"),
    PartKind.WRAP: N_("wrap"),
    PartKind.TRAY: N_("tray"),
    PartKind.DRIPPINGS: N_("drippings"),
    PartKind.CLINGING_FAT: N_("clinging fat"),
}

SHARED_KINDS = frozenset({PartKind.TRAY})
"""Kinds whose label means the same thing for every piece of a trial."""


class Part(Record):
    """One named part of what lay on the scale.

    ``label`` tells parts of one kind apart ("trimmed" meat, "green" tray, "used" wrap).
    Meat always has one of ``MeatState`` as its label.
    """

    kind: PartKind
    label: Annotated[
        str, StringConstraints(strip_whitespace=True, to_lower=True, max_length=60)
    ] = ""

    @model_validator(mode="after")
    def _meat_has_a_state(self) -> Self:
        if self.kind is PartKind.MEAT and self.label not in set(MeatState):
            states = ", ".join(f"'{state} meat'" for state in MeatState)
            raise InputError(
                N_(
                    "'%(text)s' does not say when; write one of %(states)s",
                    text=self.text,
                    states=states,
                )
            )
        return self

    @property
    def text(self) -> str:
        """The part as a person writes it: "trimmed meat"."""
        return f"{self.label} {self.kind}".strip()

    @property
    def words(self) -> Message:
        """The part for people; a label of a person's own stays as it was written."""
        if self.kind is PartKind.MEAT:
            return MEATS[MeatState(self.label)]
        kind = _KINDS[self.kind]
        return N_("%(label)s %(kind)s", label=self.label, kind=kind) if self.label else kind

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read "trimmed meat", "green tray", "clinging fat".

        Raises ValueError that lists the kinds when the text ends in none of them.
        """
        words = " ".join(text.lower().split())
        for kind in sorted(PartKind, key=len, reverse=True):
            if words == kind or words.endswith(f" {kind}"):
                return cls(kind=kind, label=words[: len(words) - len(kind)].strip())
        kinds = ", ".join(PartKind)
        raise InputError(
            N_(
                "%(text)r is not a part that can be weighed; end it with one of: %(kinds)s",
                text=text,
                kinds=kinds,
            )
        )


def _read_part(value: Any) -> Any:
    return Part.parse(value) if isinstance(value, str) else value


WrittenPart = Annotated[
    Part, BeforeValidator(_read_part), PlainSerializer(lambda part: part.text, return_type=str)
]
"""A part that files and the notebook hold as its text."""


def _read_sum(value: Any) -> Any:
    return [part.strip() for part in value.split("+")] if isinstance(value, str) else value


WrittenSum = Annotated[tuple[WrittenPart, ...], BeforeValidator(_read_sum), Field(min_length=1)]
"""The parts on a scale; as one text, "trimmed meat + green tray"."""


ScaleUnit = Literal["kg", "g", "lb", "oz"]


class Scale(Record):
    """A scale: what it can tell.

    ``resolution_kg``     smallest step that it shows
    ``repeatability_kg``  standard deviation of repeated weighings of one load
    ``max_error_kg``      half-width within which its error at any load lies (0: not known to err)
    ``unit``              what it shows masses in; a bare number typed for it is in that
    """

    id: Id
    name: Name
    resolution_kg: Annotated[MassKg, Field(gt=0)]
    repeatability_kg: MassKg = 0.0
    max_error_kg: MassKg = 0.0
    unit: ScaleUnit | None = None
    note: Text = ""


class Weighing(Record):
    """One reading of a scale and the sum of parts that lay on it.

    ``reading_kg`` is what the scale showed; ``written`` keeps it as the person wrote it.
    ``piece`` may be missing only when nothing but trays was weighed. ``checked`` is what somebody
    confirmed when it was doubted (``claim``); it no longer counts once that is changed.
    """

    id: Id
    cook: Id | None = None
    piece: Id | None = None
    at: Instant | None = None
    scale: Id
    reading_kg: MassKg
    written: Text = ""
    sum: WrittenSum
    by: Text = ""
    note: Text = ""
    checked: Text = ""
    checked_by: Text = ""
    checked_at: Instant | None = None

    @property
    def claim(self) -> str:
        """What it says, in one line: what is confirmed when it is doubted."""
        whose = f" of {self.piece}" if self.piece else ""
        parts = " + ".join(part.text for part in self.sum)
        when = f" at {show_instant(self.at, UTC)}" if self.at else ""
        where = f" in {self.cook}" if self.cook else ""
        return f"{quantity.file_mass(self.reading_kg)}: {parts}{whose}{where}{when}"

    @model_validator(mode="before")
    @classmethod
    def _keep_as_written(cls, content: Any) -> Any:
        if isinstance(content, dict) and not content.get("written"):
            reading = content.get("reading", content.get("reading_kg"))
            if isinstance(reading, str):
                return {**content, "written": reading.strip()}
        return content

    @model_validator(mode="after")
    def _written_is_the_reading(self) -> Self:
        try:
            said = quantity.parse_mass(self.written)
        except quantity.QuantityError:
            return self
        if abs(said - self.reading_kg) > 1e-9 * max(said, self.reading_kg):
            raise InputError(
                N_(
                    "'written' says %(written)r, but 'reading' is %(file_mass)s; leave "
                    "'written' out, or make them agree",
                    written=self.written,
                    file_mass=quantity.file_mass(self.reading_kg),
                )
            )
        return self

    @model_serializer(mode="wrap")
    def _reading_as_written(
        self, handler: SerializerFunctionWrapHandler, info: SerializationInfo
    ) -> dict[str, Any]:
        content: dict[str, Any] = handler(self)
        if isinstance(info.context, FileContext):
            try:
                exact = quantity.parse_mass(self.written) == self.reading_kg
            except quantity.QuantityError:
                exact = False
            if exact:
                # A file then holds what the person wrote, once, and reads back as both.
                content["reading"] = content.pop("written")
        return content

    @model_validator(mode="after")
    def _parts_make_sense(self) -> Self:
        texts = [part.text for part in self.sum]
        for text in texts:
            if texts.count(text) > 1:
                raise InputError(
                    N_(
                        "'%(text)s' is named twice in one sum; give each its own label, as in "
                        "'first %(text)s' and 'second %(text)s'",
                        text=text,
                    )
                )
        if self.piece is None and any(part.kind not in SHARED_KINDS for part in self.sum):
            raise InputError(
                N_("say whose weighing this is: only trays are weighed without a piece")
            )
        return self


class PartEstimate(Record):
    """A part that was not weighed but is known within limits, and why.

    rectangular: anywhere from ``low_kg`` to ``high_kg``; triangular: most likely at ``best_kg``;
    normal: ``best_kg`` is the mean and low to high the middle 95 %.
    """

    id: Id
    piece: Id | None = None
    part: WrittenPart
    low_kg: MassKg
    high_kg: MassKg
    best_kg: MassKg | None = None
    shape: Literal["rectangular", "triangular", "normal"] = "rectangular"
    why: Annotated[Text, Field(min_length=1)]

    @model_validator(mode="after")
    def _limits_in_order(self) -> Self:
        if not self.low_kg < self.high_kg:
            raise InputError(N_("low must be below high"))
        if self.best_kg is not None and not self.low_kg <= self.best_kg <= self.high_kg:
            raise InputError(N_("best must lie between low and high"))
        if self.shape != "rectangular" and self.best_kg is None:
            raise InputError(N_("a %(shape)s estimate needs 'best'", shape=self.shape))
        if self.piece is None and self.part.kind not in SHARED_KINDS:
            raise InputError(N_("say whose part this is: only trays belong to no piece"))
        return self
