"""A finding told in German: every message has its German, and no English sentence is left.

What a person typed (names, notes, questions) and what studies are called stay as they are.
"""

import dataclasses
import re
from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO
from typing import Any

import pytest
from pydantic import BaseModel
from pypdf import PdfReader

from fairsmoke.answers.demonstration import demonstrate
from fairsmoke.judging.finding import Finding
from fairsmoke.messages.catalogue import catalogue
from fairsmoke.messages.message import Listed, Message, Sentence
from fairsmoke.quantity import US
from fairsmoke.telling.as_text import document_text
from fairsmoke.telling.blocks import Section
from fairsmoke.telling.document import from_json, to_json
from fairsmoke.telling.finding import FindingDocument, finding_document, for_terminal
from fairsmoke.telling.reader import ENGLISH
from fairsmoke.telling.report import report_pdf
from fairsmoke.trial.record import TrialRecord

GERMAN = replace(ENGLISH, language="de")
AMERICAN_GERMAN = replace(GERMAN, units=US, clock="12")

ENGLISH_WORDS = re.compile(r"\b(the|of|and|with|is|by|from|not|than|were|each|that)\b", re.I)
"""Function words that German does not have ("was" it has)."""

NAMES = re.compile(r"(J\. )?(Anim\.|Food) (Sci|Prot)[^;)]*|FDA Food Code|Food Code|fail-safe")
"""What journals and rules are called."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Finding:
    """Return the finding of the whole demo, read in through its logger files."""
    return demonstrate(tmp_path_factory.mktemp("demo")).finding


@pytest.fixture(scope="module")
def document(made: Finding) -> FindingDocument:
    return finding_document(made)


@pytest.fixture(scope="module")
def typed(made: Finding) -> list[str]:
    """Return every text of the record, the longest first: all that a person can have typed."""
    found = {re.sub(r"\s+", " ", text) for text in texts_of(made.record)}
    return sorted((text for text in found if len(text) > 1), key=len, reverse=True)


def texts_of(value: Any) -> Iterator[str]:
    match value:
        case str():
            yield value
        case BaseModel():
            yield from texts_of(dict(value))
        case TrialRecord():
            for field in dataclasses.fields(value):
                if field.name != "readings":
                    yield from texts_of(getattr(value, field.name))
        case dict():
            yield from texts_of(list(value.values()))
        case list() | tuple() | set() | frozenset():
            for one in value:
                yield from texts_of(one)


def messages_in(value: Any) -> Iterator[Message]:
    """Yield every message of a document, those inside others too."""
    if isinstance(value, Message):
        yield value
        yield from messages_in(dict(value.values))
    elif isinstance(value, dict):
        yield from messages_in(list(value.values()))
    elif isinstance(value, (list, tuple)):
        for one in value:
            yield from messages_in(one)
    elif type(value).__module__.startswith(("fairsmoke.telling", "fairsmoke.messages")):
        for field in dataclasses.fields(value):
            yield from messages_in(getattr(value, field.name))


def words_in(value: Any) -> Iterator[str]:
    """Yield every plain text of a document: what is said as it is to every reader."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Message):
        yield from words_in(dict(value.values))
    elif isinstance(value, Listed):
        yield from words_in(list(value.items))
    elif isinstance(value, Sentence):
        yield from words_in(value.words)
    elif isinstance(value, Section):
        yield from words_in([value.title, value.blocks])
    elif isinstance(value, dict):
        for name, one in value.items():
            if name not in ("kind", "picture", "align", "widths", "made", "spots", "registration"):
                yield from words_in(one)
    elif isinstance(value, (list, tuple)):
        for one in value:
            yield from words_in(one)


def without(text: str, typed: list[str]) -> str:
    """Return a text on one line without what was typed by a person."""
    text = re.sub(r"\s+", " ", text.replace("\u00a0", " "))
    for one in typed:
        text = text.replace(one, "·").replace(one.upper(), "·")
        # A chart cuts a long name, and says so.
        text = re.sub(re.escape(one[:14]) + r"[^…]{0,24}?(…|\.\.\.)", "·", text)
    return NAMES.sub("·", text)


def english_left(text: str) -> list[str]:
    return [text[max(m.start() - 40, 0) : m.end() + 40] for m in ENGLISH_WORDS.finditer(text)]


def test_every_message_of_the_document_has_its_german(document: FindingDocument) -> None:
    german = {
        one.id if isinstance(one.id, str) else one.id[0]: one.string
        for one in catalogue("de")
        if one.id
    }
    found = list(messages_in(document))
    assert len(found) > 500
    for one in found:
        if re.search("[a-z]{2}", re.sub(r"%\(\w+\)s", "", one.text)):
            assert german.get(one.text), one.text


def test_what_no_catalogue_says_was_typed_by_a_person(
    document: FindingDocument, typed: list[str]
) -> None:
    told = [document.brief, document.front, dict(document.sections), document.pieces]
    for text in words_in(told):
        if not any(text in one for one in typed):
            assert not re.search("[A-Za-z]{3}", without(text, typed)), text


def test_the_terminal_says_no_english(made: Finding, typed: list[str]) -> None:
    told = document_text(for_terminal(made), GERMAN)
    assert "ANTWORT" in told
    # A terminal breaks names over the lines of a cell, so that they are blanked before.
    for section in for_terminal(made):
        for block in section.blocks:
            if block["kind"] != "table":
                said = document_text([Section("", [block])], GERMAN)
                assert not english_left(without(said, typed)), said


@pytest.mark.parametrize("reader", [GERMAN, AMERICAN_GERMAN], ids=["metric", "us"])
def test_the_report_says_no_english(made: Finding, typed: list[str], reader: Any) -> None:
    pdf = PdfReader(BytesIO(report_pdf(made, reader)))
    assert str(pdf.root_object["/Lang"]) == "de-DE"
    assert 15 <= len(pdf.pages) <= 20
    whole = " ".join(page.extract_text() for page in pdf.pages)
    assert "Seite 1 von" in whole
    assert "Punkte mehr" in whole
    # A narrow cell breaks a name over its lines, hyphens and all.
    assert not english_left(without(whole, typed))
    assert ("°F" in whole) == (reader is AMERICAN_GERMAN)
    assert not re.search(r"\d\.\d+ (kg|lb|oz|Punkte|%)", without(whole, typed))


def test_a_document_is_kept_and_read_back_for_any_reader(made: Finding) -> None:
    kept = finding_document(made, cooks=False)
    back = from_json(to_json(kept))
    for reader in (ENGLISH, GERMAN, AMERICAN_GERMAN):
        for name, section in kept.sections.items():
            assert document_text([back.sections[name]], reader) == document_text([section], reader)
    assert set(back.pictures) == set(kept.pictures)
