"""What a cook's alerts watch for: thresholds with sensible defaults, set per cook."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from fairsmoke.notebook import Notebook
from fairsmoke.notebook.transaction import Transaction, set_to, setting
from fairsmoke.physics.limits import COME_UP, GROWTH_WINDOW_C, SAFETY_LIMITS, least_c, within_s

GROWTH_LOW_C, GROWTH_HIGH_C = GROWTH_WINDOW_C

HELD_C = least_c(SAFETY_LIMITS["hold 57 °C"])
"""Below it the time without heat counts, once the meat was cooked."""


class AlertThresholds(BaseModel):
    """Thresholds of one cook.

    ``pit_band_k`` on each side of what the pit is set to, for ``pit_out_s``; a probe is lost after
    ``probe_lost_s`` without a reading; a hold is too cold below ``hold_least_c``; of the time that
    a piece may lie in the growth range (``come_up_s`` on the way up, ``cooled_s`` once it was
    cooked) the last ``warn_before_s`` warn.
    Band, minutes and warning: common practice, no source. The rest: ``physics.limits``.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    pit_band_k: Annotated[float, Field(ge=1, le=100)] = 15.0
    pit_out_s: Annotated[float, Field(ge=60, le=6 * 3600)] = 15 * 60.0
    probe_lost_s: Annotated[float, Field(ge=60, le=6 * 3600)] = 10 * 60.0
    hold_least_c: Annotated[float, Field(ge=40, le=90)] = least_c(SAFETY_LIMITS["hold 60 °C"])
    come_up_s: Annotated[float, Field(ge=1800, le=24 * 3600)] = within_s(COME_UP)
    cooled_s: Annotated[float, Field(ge=600, le=24 * 3600)] = within_s(
        SAFETY_LIMITS["4 h without heat"]
    )
    warn_before_s: Annotated[float, Field(ge=0, le=6 * 3600)] = 3600.0


def _name(trial: str, cook: str) -> str:
    return f"watch/{trial}/{cook}"


def watch_of(book: Notebook, trial: str, cook: str) -> AlertThresholds:
    """Return the thresholds of a cook; the defaults when none were set."""
    with book.reading() as connection:
        content = setting(connection, _name(trial, cook))
    return AlertThresholds() if content is None else AlertThresholds.model_validate(content)


def set_watch(transaction: Transaction, trial: str, cook: str, watch: AlertThresholds) -> None:
    """Set the thresholds of a cook."""
    set_to(transaction, _name(trial, cook), watch.model_dump())
