"""The languages, their catalogues, and translating a message."""

import gettext
import io
from functools import cache
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from fairsmoke.app.text.messages import Message

SOURCE = "en"
HERE = Path(__file__).parent
LANGUAGES = {"en": "English", "de": "Deutsch"}
"""Each language by its code, in its own words."""


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


def say(message: Message | str, language: str) -> str:
    """Return a message in a language; a plain text is returned as it is."""
    if isinstance(message, str):
        return message
    found = translations(language)
    if message.many is None:
        text = found.gettext(message.text)
    else:
        text = found.ngettext(message.text, message.many, message.count)
    values = {
        name: say(value, language) if isinstance(value, Message) else value
        for name, value in message.values.items()
    }
    return text % values if values else text


def preferred(accepted: str) -> str:
    """Return the language to use for what a browser says that it accepts."""
    for part in accepted.split(","):
        code = part.partition(";")[0].strip().lower().partition("-")[0]
        if code in LANGUAGES:
            return code
    return SOURCE
