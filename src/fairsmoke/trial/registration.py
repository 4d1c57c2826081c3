"""The plan frozen before the first reading, with a digest that anyone can work out again."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Self

from pydantic import Field, StringConstraints, ValidationError, model_validator

from fairsmoke.messages.errors import InputError, message_of
from fairsmoke.messages.message import N_
from fairsmoke.trial.base import FileContext, Instant, Record, Text
from fairsmoke.trial.canonical import canonical_form, digest_of
from fairsmoke.trial.plan import Plan
from fairsmoke.trial.question import Trial

FORM = 1
"""The form of a registered plan; raised when a key changes its meaning or goes away."""

ABSENT = ""
"""Stands for a value that is not there in a change of the plan."""


class PlanChange(Record):
    """One place of a plan and what stands there, each value as canonical JSON ("" for nothing)."""

    place: Annotated[Text, Field(min_length=1)]
    was: Text = ABSENT
    now: Text = ABSENT


class Amendment(Record):
    """A later change to a registered plan: kept, dated and shown.

    ``changes`` are the places of the plan that it changes; none where it tells of something that
    stands in no place of the plan.
    """

    at: Instant
    what: Annotated[Text, Field(min_length=1)]
    why: Annotated[Text, Field(min_length=1)]
    changes: tuple[PlanChange, ...] = ()


class Registration(Record):
    """The frozen plan. Raises ValueError when the digest is not that of the plan."""

    at: Instant
    plan: str
    digest: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
    amendments: tuple[Amendment, ...] = ()

    @model_validator(mode="after")
    def _digest_fits(self) -> Self:
        found = digest_of(self.plan)
        if found != self.digest:
            raise InputError(
                N_(
                    "the plan has digest %(found)s, not %(digest)s: it was altered",
                    found=found,
                    digest=self.digest,
                )
            )
        return self


@dataclass(frozen=True)
class Registered:
    """What a registered plan says, read again."""

    trial: Trial
    plan: Plan | None


def plan_text(trial: Trial, plan: Plan | None) -> str:
    """Return what is frozen of a trial and its plan, as the canonical text.

    Every value stands there, the usual ones too, so that it says the same when what is usual
    changes. Quantities are texts with their unit, as in a file.
    """
    content: dict[str, Any] = {"form": FORM, "trial": _whole(trial)}
    if plan is not None:
        content["plan"] = _whole(plan)
    return canonical_form(content)


def frozen(trial: Trial, plan: Plan | None, at: Instant) -> Registration:
    """Return the registration of a trial and its plan at that moment."""
    text = plan_text(trial, plan)
    return Registration(at=at, plan=text, digest=digest_of(text))


def registered_of(text: str) -> Registered:
    """Read a registered plan again. Raises ValueError that says why it cannot be read."""
    try:
        content = json.loads(text)
    except ValueError as error:
        raise InputError(
            N_("the registered plan is not JSON: %(error)s", error=message_of(error))
        ) from error
    if not isinstance(content, dict) or content.get("form") != FORM:
        raise InputError(N_("the registered plan is not of form %(form)s", form=FORM))
    try:
        plan = content.get("plan")
        return Registered(
            Trial.from_file(content.get("trial")), None if plan is None else Plan.from_file(plan)
        )
    except ValidationError as error:
        raise InputError(
            N_("the registered plan cannot be read: %(error)s", error=message_of(error))
        ) from error


def _whole(record: Record) -> dict[str, Any]:
    return record.model_dump(
        mode="json", by_alias=True, exclude_none=True, context=FileContext(None)
    )


# Words beside the plan change nothing.
_NOT_COMPARED = frozenset({"title", "note", "invented"})


def changes_between(before: Registered, now: Registered) -> tuple[PlanChange, ...]:
    """Return every place of the plan in which the two differ, in the order of the plan.

    Titles and notes do not count.
    """
    if before.plan is None or now.plan is None:
        one_only = before.plan is not now.plan
        here, there = (Registered(said.trial, None) for said in (before, now))
        of_plan = PlanChange(place="plan", was=_there(before.plan), now=_there(now.plan))
        return (*_changes(here, there), *([of_plan] if one_only else []))
    return _changes(before, now)


def _there(plan: Plan | None) -> str:
    return ABSENT if plan is None else canonical_form("a plan of what is at hand and who gets what")


def _changes(before: Registered, now: Registered) -> tuple[PlanChange, ...]:
    old, new = _places_of(before), _places_of(now)
    return tuple(
        PlanChange(place=place, was=old.get(place, ABSENT), now=new.get(place, ABSENT))
        for place in dict.fromkeys((*old, *new))
        if old.get(place) != new.get(place)
    )


def _places_of(said: Registered) -> dict[str, str]:
    found = dict(_flat(_whole(said.trial), ""))
    if said.plan is not None:
        found |= dict(_flat(_whole(said.plan) | _layout_in_short(said.plan), "plan"))
    return found


def _layout_in_short(plan: Plan) -> dict[str, str]:
    """Return a layout as one value: who got what otherwise is told piece by piece elsewhere."""
    if plan.layout is None:
        return {}
    slots = digest_of(canonical_form(_whole(plan.layout)))[:12]
    return {"layout": f"{plan.layout.kind}, seed {plan.layout.seed}, {slots}"}


def _flat(content: Any, place: str) -> Iterator[tuple[str, str]]:
    """Yield each value with its place; members of a list go by their handle where they can."""
    if isinstance(content, Mapping):
        for key, value in content.items():
            if key not in _NOT_COMPARED:
                yield from _flat(value, f"{place}, {key}" if place else str(key))
    elif isinstance(content, list) and content and all(_handle(one) for one in content):
        yield f"{place}, order", canonical_form([_handle(one) for one in content])
        for one in content:
            yield from _flat({k: v for k, v in one.items() if k != "id"}, f"{place} {_handle(one)}")
    elif content not in ([], {}):
        yield place, canonical_form(content)


def _handle(one: Any) -> str:
    return str(one.get("id") or one.get("piece") or "") if isinstance(one, Mapping) else ""
