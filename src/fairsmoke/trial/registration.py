"""The plan frozen before the first reading, with a digest that anyone can work out again."""

import hashlib
import json
from typing import Annotated, Any, Self

from pydantic import Field, StringConstraints, model_validator

from fairsmoke.trial.base import Instant, Record, Text


def canonical_form(plan: dict[str, Any]) -> str:
    """Return the one text of a plan that its digest is taken over.

    JSON with sorted keys, no spaces, every character as itself; its UTF-8 bytes are hashed.
    """
    return json.dumps(
        plan, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    )


def digest_of(canonical: str) -> str:
    """Return the SHA-256 of that text in UTF-8, as 64 hexadecimal digits (FIPS 180-4)."""
    return hashlib.sha256(canonical.encode()).hexdigest()


class Amendment(Record):
    """A later change to a registered plan: kept, dated and shown."""

    at: Instant
    what: Annotated[Text, Field(min_length=1)]
    why: Annotated[Text, Field(min_length=1)]


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
            raise ValueError(f"the plan has digest {found}, not {self.digest}: it was altered")
        return self
