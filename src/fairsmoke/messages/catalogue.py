"""The languages, their catalogues, and translating a message."""

import gettext
import io
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from fairsmoke.messages.message import (
    N_,
    Listed,
    Message,
    Sentence,
    Words,
    as_sentence,
    joined,
)

SOURCE = "en"
HERE = Path(__file__).parent
LANGUAGES = {"en": "English", "de": "Deutsch"}
"""Each language by its code, in its own words."""

_LAST = {"": None, "and": N_("and"), "or": N_("or")}


def catalogue_path(language: str) -> Path:
    """Return where a language's messages lie."""
    return HERE / language / "LC_MESSAGES" / "fairsmoke.po"


def catalogue(language: str) -> Catalog:
    """Read a language's messages. English has none of its own: it is what stands in the code."""
    with catalogue_path(language).open("rb") as file:
        return read_po(file, locale=language)


@cache
def translations(language: str) -> gettext.NullTranslations:
    """Return the translations into a language."""
    if language == SOURCE:
        return gettext.NullTranslations()
    compiled = io.BytesIO()
    write_mo(compiled, catalogue(language))
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)


def say(words: Words, language: str, show: Callable[[Any], Any] | None = None) -> str:
    """Return words in a language; a plain text is returned as it is.

    ``show`` formats the values that are neither text nor messages; without it they are written by
    their own ``str``.
    """
    if isinstance(words, str):
        return words
    if isinstance(words, Listed):
        last = _LAST[words.last]
        items = [say(item, language, show) for item in words.items]
        return joined(items, "" if last is None else say(last, language), words.between)
    if isinstance(words, Sentence):
        return as_sentence(say(words.words, language, show))
    found = translations(language)
    if words.many is None:
        text = found.gettext(words.text)
    else:
        text = found.ngettext(words.text, words.many, words.count)
    if not words.values:
        return text
    return text % {name: _value(value, language, show) for name, value in words.values.items()}


def _value(value: Any, language: str, show: Callable[[Any], Any] | None) -> Any:
    if isinstance(value, (Message, Listed, Sentence)):
        return say(value, language, show)
    return value if show is None or isinstance(value, str) else show(value)


def preferred(accepted: str) -> str:
    """Return the language to use for what a browser says that it accepts."""
    for part in accepted.split(","):
        code = part.partition(";")[0].strip().lower().partition("-")[0]
        if code in LANGUAGES:
            return code
    return SOURCE
