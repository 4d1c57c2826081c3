"""Ranges, a base method and worthwhile differences, read as people write them in options."""

from collections.abc import Mapping
from typing import Any

from fairsmoke.answers.how_many import measure_of
from fairsmoke.messages.errors import JobError, message_of
from fairsmoke.messages.message import N_, InputField, Listed, Words
from fairsmoke.planning.methods.space import DesignSpace, FactorRange, MethodSettings
from fairsmoke.quantity import QuantityError, parse_duration, parse_temperature
from fairsmoke.trial.question import Measure

FACTOR_OF = {
    "pit": "pit_c",
    "wrap_at": "wrap_at_c",
    "until": "until_c",
    "hold": "hold_c",
    "hold_for": "hold_s",
}
"""The factor that each option sets."""
PANS = {"both": (False, True), "without": (False,), "with": (True,)}


def range_of(option: str, said: str, usual: FactorRange) -> FactorRange:
    """Read "107 to 149 °C" or one value; "" keeps the usual. Raises JobError naming the option."""
    if not said.strip():
        return usual
    ends = [part.strip() for part in said.split(" to ")]
    if len(ends) > 2:
        raise _unreadable(option, said, N_("write one value, or two with 'to' between"))
    if len(ends) == 2 and ends[0].replace(".", "", 1).replace(",", "", 1).isdigit():
        # "107 to 149 °C": both ends have the unit of the last.
        ends[0] += ends[1].lstrip("0123456789.,")
    try:
        values = [_read(option, end) for end in ends]
    except QuantityError as error:
        raise _unreadable(option, said, message_of(error)) from error
    return FactorRange(values[0], values[-1])


def space_of(
    ranges: Mapping[str, str], *, wraps: str, pan: str, hold_wrap: str = "foil"
) -> DesignSpace:
    """Return the space of methods from ranges as people write them, by option.

    Raises JobError or PlanError that names the option or what is wrong.
    """
    usual = DesignSpace()
    read: dict[str, Any] = {
        FACTOR_OF[option]: range_of(option, said, getattr(usual, FACTOR_OF[option]))
        for option, said in ranges.items()
    }
    if pan not in PANS:
        raise _unreadable("pan", pan, N_("one of %(known)s", known=Listed(list(PANS))))
    kinds = tuple(part.strip() for part in wraps.split(",") if part.strip())
    return DesignSpace(**read, wraps=kinds, pans=PANS[pan], hold_wrap=hold_wrap)


def settings_of(said: str) -> MethodSettings:
    """Return the base method from "pit=121 °C, wrap=foil, pan=yes"; what is not said is usual.

    Raises JobError for what is not written so, PlanError for what cannot be.
    """
    read: dict[str, Any] = {}
    for part in said.split(",") if said.strip() else ():
        key, equals, value = (bit.strip() for bit in part.partition("="))
        option = key.replace("-", "_")
        if not equals or option not in (*FACTOR_OF, "wrap", "pan"):
            known = [*(name.replace("_", "-") for name in FACTOR_OF), "wrap", "pan"]
            mend = N_("write OPTION=VALUE, one of %(known)s", known=Listed(known))
            raise _unreadable("base", part.strip(), mend)
        if option == "pan" and value not in ("yes", "no"):
            raise _unreadable("base", part.strip(), N_("yes or no"))
        if option in FACTOR_OF:
            try:
                read[FACTOR_OF[option]] = _read(option, value)
            except QuantityError as error:
                raise _unreadable("base", part.strip(), message_of(error)) from error
        else:
            read[option] = value == "yes" if option == "pan" else value
    return MethodSettings(**read)


def measures_of(worthwhile: str) -> tuple[Measure, ...]:
    """Return yield and cook time with the differences that matter, "2 points,1 h"."""
    parts = [part.strip() for part in worthwhile.split(",")]
    if len(parts) != 2:
        raise _unreadable("worthwhile", worthwhile, N_("write two, such as '2 points,1 h'"))
    return (measure_of("yield", parts[0]), measure_of("cook time", parts[1]))


def _read(option: str, said: str) -> float:
    return parse_duration(said) if option == "hold_for" else parse_temperature(said)


def _unreadable(option: str, said: str, mend: Words) -> JobError:
    message = N_("%(field)s '%(said)s': %(mend)s", field=InputField(option), said=said, mend=mend)
    return JobError(message, field=option)
