"""The question of a trial: its arms, what is measured, and what difference would matter."""

import re
from enum import StrEnum
from typing import Annotated, Any, Literal, Self

from pydantic import Field, ValidationInfo, model_serializer, model_validator
from pydantic_core.core_schema import SerializationInfo, SerializerFunctionWrapHandler

from fairsmoke import quantity
from fairsmoke.messages.errors import InputError, message_of
from fairsmoke.messages.message import N_
from fairsmoke.trial.base import FileContext, Id, LengthM, Name, Record, TemperatureC, Text
from fairsmoke.trial.protocol import Protocol, StageChange
from fairsmoke.trial.weighing import MeatState


class MeasureKind(StrEnum):
    """Where the numbers of a measure come from."""

    YIELD = "yield"
    """Share of the trimmed raw mass that is left, from the mass ledger."""
    COOK_TIME = "cook time"
    """From going on the cooker to coming off it."""
    TIME_TO_CORE = "time to core"
    """From going on until the core first reaches ``core_c``."""
    SCORE = "score"
    """Mean of the tasters' scores for the piece."""
    MEASURED = "measured"
    """Measured on the piece itself, in ``unit`` (shear force, pH, bark thickness)."""


TIMES = frozenset({MeasureKind.COOK_TIME, MeasureKind.TIME_TO_CORE})
"""The kinds whose values are seconds."""


class Better(StrEnum):
    """Which way a measure is better."""

    HIGHER = "higher"
    LOWER = "lower"
    NEITHER = "neither"


_DIFFERENCES = ("worthwhile", "spread")

_POINTS = re.compile(r"^\s*([0-9]+(?:[.,][0-9]+)?)\s*(?:points?|percentage points?|%)\s*$")


def _parse_difference(kind: MeasureKind, unit: str, text: str) -> float:
    if kind is MeasureKind.YIELD:
        match = _POINTS.match(text)
        if not match:
            raise InputError(
                N_("%(text)r is not a difference of yields; write it as '2 points'", text=text)
            )
        return float(match.group(1).replace(",", ".")) / 100
    if kind in TIMES:
        return quantity.parse_duration(text)
    number = text.strip().removesuffix(unit).strip() if unit else text.strip()
    try:
        return float(number)
    except ValueError:
        example = f"'0.5 {unit}'" if unit else "'0.5'"
        raise InputError(
            N_(
                "%(text)r is not a difference in this measure; write %(example)s",
                text=text,
                example=example,
            )
        ) from None


def _write_difference(kind: MeasureKind, unit: str, value: float) -> str:
    if kind is MeasureKind.YIELD:
        points = value * 100
        # Only write the rounder form when it reads back as the very same number.
        shown = f"{points:.12g}"
        return f"{shown if float(shown) / 100 == value else repr(points)} points"
    if kind in TIMES:
        return quantity.file_duration(value)
    return f"{value!r} {unit}".strip()


class Measure(Record):
    """What is compared, and the smallest difference that would change what the person does.

    ``worthwhile`` is in the measure's own SI size: a fraction for yield, seconds for times, points
    of the scale for scores, ``unit`` for what is measured. ``spread``, in the same size, is how far
    pieces treated alike are thought to differ (one standard deviation), where the person knows
    better than the published studies; ``spread_share`` is the same as a share of the value itself,
    for what is measured. ``state`` says which meat a yield counts. A score needs the ends of its
    scale.
    """

    id: Id
    name: Name
    kind: MeasureKind
    better: Better
    worthwhile: Annotated[float, Field(gt=0, allow_inf_nan=False)]
    spread: Annotated[float | None, Field(gt=0, allow_inf_nan=False)] = None
    spread_share: Annotated[float | None, Field(gt=0, le=2)] = None
    unit: Annotated[str, Field(max_length=30)] = ""
    state: MeatState = MeatState.COOKED
    core_c: TemperatureC | None = None
    scale_low: float | None = None
    scale_high: float | None = None
    main: bool = False

    @model_validator(mode="before")
    @classmethod
    def _differences_from_text(cls, content: Any, info: ValidationInfo) -> Any:
        if not isinstance(content, dict):
            return content
        read = dict(content)
        has_unit = content.get("kind") not in (MeasureKind.SCORE, MeasureKind.MEASURED)
        for key in _DIFFERENCES:
            written = content.get(key)
            if isinstance(written, str):
                kind = MeasureKind(content.get("kind", ""))
                read[key] = _parse_difference(kind, str(content.get("unit", "")), written)
            elif written is not None and isinstance(info.context, FileContext) and has_unit:
                raise InputError(
                    N_(
                        "%(key)s %(written)s has no unit; write '2 points' or '30 min'",
                        key=key,
                        written=written,
                    )
                )
        return read

    @model_validator(mode="after")
    def _has_what_its_kind_needs(self) -> Self:
        if self.kind is MeasureKind.TIME_TO_CORE and self.core_c is None:
            raise InputError(N_("a time to core needs 'core', the temperature to be reached"))
        if self.kind is MeasureKind.MEASURED and not self.unit:
            raise InputError(N_("what is measured needs 'unit'"))
        if self.spread_share is not None and self.kind is not MeasureKind.MEASURED:
            raise InputError(N_("'spread_share' is for what is measured; give 'spread'"))
        if self.spread_share is not None and self.spread is not None:
            raise InputError(N_("give 'spread' or 'spread_share', not both"))
        if self.kind is MeasureKind.SCORE:
            if self.scale_low is None or self.scale_high is None:
                raise InputError(N_("a score needs 'scale_low' and 'scale_high'"))
            if not self.scale_low < self.scale_high:
                raise InputError(N_("scale_low must be below scale_high"))
            if self.worthwhile > self.scale_high - self.scale_low:
                raise InputError(N_("a worthwhile difference larger than the whole scale"))
        if self.kind is MeasureKind.YIELD and self.worthwhile >= 1:
            raise InputError(N_("a worthwhile difference of yields must be below 100 points"))
        return self

    @model_serializer(mode="wrap")
    def _differences_to_text(
        self, handler: SerializerFunctionWrapHandler, info: SerializationInfo
    ) -> dict[str, Any]:
        content: dict[str, Any] = handler(self)
        if isinstance(info.context, FileContext):
            for key in _DIFFERENCES:
                value = getattr(self, key)
                if value is not None:
                    content[key] = _write_difference(self.kind, self.unit, value)
        return content


class Arm(Record):
    """One of the methods compared; what differs is a change to the shared protocol."""

    id: Id
    name: Name
    changes: tuple[StageChange, ...] = ()
    note: Text = ""


class Draw(Record):
    """How it was decided which piece got which arm: what the re-randomisation test may permute.

    ``within`` names the blocks inside which arms were drawn; "by hand" means that nobody drew.
    ``even``: of the layouts that this could give, only those that spread the arms over the
    positions as evenly as can be were allowed, all of them equally likely. ``given_to`` "cooks":
    every piece of a cook got the same arm, and cooks were drawn.
    """

    how: Literal["drawn", "by hand"]
    within: Literal["pair", "cook", "whole piece", "trial"] = "pair"
    even: bool = False
    given_to: Literal["pieces", "cooks"] = "pieces"
    seed: int | None = None
    note: Text = ""


class VerdictRule(Record):
    """How sure one must be before a verdict, and from which probabilities on it is told to lean.

    Below ``hint`` a comparison is open, from there on there is a hint; from ``leaning`` it leans.
    """

    sure: Annotated[float, Field(gt=0.5, lt=1)] = 0.95
    hint: Annotated[float, Field(gt=0.5, lt=1)] = 0.60
    leaning: Annotated[float, Field(gt=0.5, lt=1)] = 0.80

    @model_validator(mode="after")
    def _rise(self) -> Self:
        if not self.hint <= self.leaning:
            raise ValueError("'hint' must not lie above 'leaning'")
        return self


class Trial(Record):
    """One question with its arms, shared protocol and measures.

    The first arm is what the others are compared with. Exactly one measure is the main one; when
    none is marked, the first is.
    """

    id: Id
    title: Name
    question: Name
    invented: bool = False
    differs: Name
    protocol: Protocol
    arms: Annotated[tuple[Arm, ...], Field(min_length=2)]
    measures: Annotated[tuple[Measure, ...], Field(min_length=1)]
    draw: Draw
    verdict: VerdictRule = VerdictRule()
    altitude_m: Annotated[LengthM, Field(lt=9000)] = 0.0
    note: Text = ""

    @model_validator(mode="after")
    def _parts_agree(self) -> Self:
        for what, handles in (
            ("arms", [arm.id for arm in self.arms]),
            ("measures", [measure.id for measure in self.measures]),
        ):
            for handle in handles:
                if handles.count(handle) > 1:
                    raise InputError(
                        N_(
                            "two %(what)s are called '%(handle)s'; give each its own id",
                            what=what,
                            handle=handle,
                        )
                    )
        if sum(measure.main for measure in self.measures) > 1:
            raise InputError(N_("only one measure can be the main one"))
        for arm in self.arms:
            try:
                self.protocol.changed_by(arm.changes)
            except ValueError as error:
                raise InputError(
                    N_("arm '%(arm)s': %(error)s", arm=arm.id, error=message_of(error))
                ) from error
        return self

    @property
    def main_measure(self) -> Measure:
        """The measure that the verdict is about."""
        return next((m for m in self.measures if m.main), self.measures[0])

    def measure(self, handle: str) -> Measure:
        """Return the measure of that handle; raises KeyError when there is none."""
        return {measure.id: measure for measure in self.measures}[handle]

    def arm(self, handle: str) -> Arm:
        """Return the arm of that handle; raises KeyError when there is none."""
        return {arm.id: arm for arm in self.arms}[handle]

    def protocol_of(self, arm_id: str) -> Protocol:
        """Return the protocol that pieces of that arm follow."""
        return self.protocol.changed_by(self.arm(arm_id).changes)
