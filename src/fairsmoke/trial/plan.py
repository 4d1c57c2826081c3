"""The plan of a trial: what is at hand, who shall get what, and what would be left out."""

from enum import StrEnum
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_
from fairsmoke.trial.base import Id, LengthM, MassKg, Name, Record, Text
from fairsmoke.trial.canonical import LARGEST_WHOLE
from fairsmoke.trial.cook import Spot

Species = Literal["beef", "pork", "lamb", "turkey", "chicken", "other"]


class PlannedPiece(Record):
    """A piece that can be cooked, with what it is matched by.

    ``arm`` only where the meat itself is what differs (one grade against another), so that nobody
    can draw it. ``half_of`` names the whole piece that it is to be cut from.
    """

    id: Id
    name: Name | None = None
    mass_kg: Annotated[MassKg | None, Field(gt=0)] = None
    thick_m: Annotated[LengthM | None, Field(gt=0)] = None
    grade: Text = ""
    animal: Id | None = None
    half_of: Id | None = None
    arm: Id | None = None

    @property
    def shown(self) -> str:
        """Its name, or else its handle."""
        return self.name or self.id


class AtHand(Record):
    """What is there to do the trial with.

    ``spots`` are the positions that pieces can stand in at one time; ``cooks`` how many cooks can
    be afforded. ``blind``: tasters do not know which sample is which. Prices are in ``currency``,
    one piece and one cook (fuel, a night).
    """

    cut: Name
    species: Species
    pieces: Annotated[tuple[PlannedPiece, ...], Field(min_length=1)]
    spots: tuple[Spot, ...] = ()
    cooks: Annotated[int, Field(ge=1, le=1000)] = 1
    tasters: Annotated[int, Field(ge=0, le=100_000)] = 0
    blind: bool | None = None
    price_piece: Annotated[float | None, Field(ge=0, allow_inf_nan=False)] = None
    price_cook: Annotated[float | None, Field(ge=0, allow_inf_nan=False)] = None
    currency: Annotated[str, Field(max_length=20)] = ""

    @model_validator(mode="after")
    def _nothing_twice(self) -> Self:
        for what, handles in (
            ("pieces", [piece.id for piece in self.pieces]),
            ("spots", [spot.text for spot in self.spots]),
        ):
            for handle in handles:
                if handles.count(handle) > 1:
                    raise InputError(
                        N_(
                            "'%(handle)s' stands twice among the %(what)s; take one out",
                            handle=handle,
                            what=what,
                        )
                    )
        with_arm = sum(piece.arm is not None for piece in self.pieces)
        if 0 < with_arm < len(self.pieces):
            raise InputError(
                N_("either every piece has 'arm' (the meat is what differs) or none has")
            )
        return self


class LayoutKind(StrEnum):
    """How a layout came about."""

    MATCHED = "matched sets"
    """As many pieces as arms, as like each other as can be; arms drawn within each set."""
    HALVES = "halves"
    """The halves (thirds …) of one piece; arms drawn within it."""
    BLOCKS = "blocks"
    """Every cook has every arm, as often as it has room; arms drawn within the cook."""
    LATIN = "latin square"
    """Every arm once in each cook and once in each position."""
    INCOMPLETE = "incomplete blocks"
    """Fewer positions than arms: each cook has some arms, every two arms as often together."""
    WHOLE_COOKS = "whole cooks"
    """Every cook has one arm; cooks are drawn, and cooks are what is repeated."""
    SEARCH = "search"
    """For awkward numbers: the layout found by search that tells the arms apart best."""


LAYOUT_NAMES = {
    LayoutKind.MATCHED: N_("matched sets"),
    LayoutKind.HALVES: N_("halves"),
    LayoutKind.BLOCKS: N_("blocks"),
    LayoutKind.LATIN: N_("latin square"),
    LayoutKind.INCOMPLETE: N_("incomplete blocks"),
    LayoutKind.WHOLE_COOKS: N_("whole cooks"),
    LayoutKind.SEARCH: N_("search"),
}
"""What a kind of layout is called."""


class Slot(Record):
    """Which arm a piece shall get, in which planned cook (1, 2 …), and where it stands.

    ``block`` is the set inside which arms were drawn. ``then`` are the positions that it is moved
    to during the cook, after equal shares of the time.
    """

    piece: Id
    arm: Id
    cook: Annotated[int, Field(ge=1)]
    block: Id
    spot: Spot | None = None
    then: tuple[Spot, ...] = ()


class Layout(Record):
    """A layout as drawn; the same seed, algorithm and pieces at hand give the same slots again.

    ``algorithm`` names the way of drawing and its version. ``swap``: pieces change places during
    the cook. ``spare`` are pieces without a slot, ``free`` says which comparisons are free of which
    disturbances, ``drawn_before`` how many earlier draws of this trial were thrown away.
    """

    kind: LayoutKind
    seed: Annotated[int, Field(ge=0, le=LARGEST_WHOLE)]
    algorithm: Name
    swap: bool = False
    slots: Annotated[tuple[Slot, ...], Field(min_length=1)]
    spare: tuple[Id, ...] = ()
    free: Text = ""
    drawn_before: Annotated[int, Field(ge=0)] = 0

    @model_validator(mode="after")
    def _one_slot_each(self) -> Self:
        pieces = [slot.piece for slot in self.slots]
        places = [(slot.cook, slot.spot.text) for slot in self.slots if slot.spot is not None]
        for piece in pieces:
            if pieces.count(piece) > 1:
                raise InputError(N_("piece '%(piece)s' has two slots", piece=piece))
        for place in places:
            if places.count(place) > 1:
                raise InputError(
                    N_(
                        "two pieces stand in %(place)s in cook %(place_2)s",
                        place=place[1],
                        place_2=place[0],
                    )
                )
        return self

    def slot_of(self, piece: str) -> Slot | None:
        """Return the slot of a piece, None when it has none."""
        return next((slot for slot in self.slots if slot.piece == piece), None)


class Plan(Record):
    """What a trial means to do: frozen with its question when it is registered.

    ``leave_out`` are the reasons, said beforehand, for which a piece or a value would not count.
    """

    at_hand: AtHand
    layout: Layout | None = None
    leave_out: tuple[Annotated[Text, Field(min_length=1)], ...] = ()
    note: Text = ""
