"""How a method and a contrast between two of them are called."""

from collections.abc import Callable, Mapping

from fairsmoke.messages.message import N_, Message, Words
from fairsmoke.planning.methods.contrasts import Contrast
from fairsmoke.planning.methods.space import MethodSettings
from fairsmoke.quantity.values import Duration, Temperature
from fairsmoke.telling.draw_words import alone
from fairsmoke.telling.simulator_words import WRAP_NAMES

_QUARTER_S = 900.0


def wrap_words(code: str) -> Words:
    """Return the name of a wrap."""
    return WRAP_NAMES.get(code, code)


def _wrapped(method: MethodSettings) -> Words:
    if method.wrap == "bare":
        return wrap_words(method.wrap)
    return N_(
        "%(wrap)s at %(core)s", wrap=wrap_words(method.wrap), core=Temperature(method.wrap_at_c)
    )


def _held(method: MethodSettings) -> Duration:
    return Duration(_QUARTER_S * max(1, round(method.hold_s / _QUARTER_S)))


def settings_row(method: MethodSettings) -> list[Words]:
    """Return a method's pit, wrap, water pan, end and hold, for the columns of a table."""
    return [
        alone(Temperature(method.pit_c)),
        _wrapped(method),
        N_("yes") if method.pan else N_("no"),
        alone(Temperature(method.until_c)),
        N_("%(long)s at %(hold)s", long=_held(method), hold=Temperature(method.hold_c)),
    ]


def method_words(method: MethodSettings) -> Message:
    """Return a method in one line."""
    return N_(
        "pit %(pit)s%(pan)s, %(wrap)s, off at %(core)s, held %(long)s at %(hold)s",
        pit=Temperature(method.pit_c),
        pan=N_(" over a water pan") if method.pan else "",
        wrap=_wrapped(method),
        core=Temperature(method.until_c),
        long=_held(method),
        hold=Temperature(method.hold_c),
    )


def contrast_words(contrast: Contrast) -> Message:
    """Return "pit 107 °C to 149 °C", "wrap: paper to foil", "water pan put in"."""
    if contrast.factor == "pan":
        return N_("water pan put in") if contrast.after.pan else N_("water pan left out")
    first, last = (setting_words(contrast.factor, one) for one in (contrast.before, contrast.after))
    return _CONTRASTS[contrast.factor](first, last)


def setting_words(factor: str, method: MethodSettings) -> Words:
    """Return what a factor is in a method."""
    if factor == "wrap":
        return wrap_words(method.wrap)
    if factor == "pan":
        return N_("with a water pan") if method.pan else N_("no water pan")
    if factor == "hold_s":
        return alone(Duration(method.hold_s))
    return alone(Temperature(getattr(method, factor)))


_CONTRASTS: Mapping[str, Callable[[Words, Words], Message]] = {
    "wrap": lambda first, last: N_("wrap: %(first)s to %(last)s", first=first, last=last),
    "pit_c": lambda first, last: N_("pit %(first)s to %(last)s", first=first, last=last),
    "wrap_at_c": lambda first, last: N_("wrap at %(first)s to %(last)s", first=first, last=last),
    "until_c": lambda first, last: N_("off at %(first)s to %(last)s", first=first, last=last),
    "hold_c": lambda first, last: N_("hold at %(first)s to %(last)s", first=first, last=last),
    "hold_s": lambda first, last: N_("hold for %(first)s to %(last)s", first=first, last=last),
}
