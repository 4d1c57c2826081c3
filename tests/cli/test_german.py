"""The shell in German: no English sentence in any output, help or error of these commands."""

import re
import shutil
from pathlib import Path

import pytest

from fairsmoke.cli.commands import run
from fairsmoke.messages.catalogue import catalogue
from fairsmoke.notebook.folder.transfer import notebook_of_folder

BY_HAND = Path(__file__).parents[1] / "notebook" / "data" / "by-hand"
TRIAL = "paper-or-bare"

PARTS = {
    part.strip(" .,;:'\n")
    for message in catalogue("de")
    if message.id and message.string
    for english, german in zip(
        message.id if isinstance(message.id, tuple) else (message.id,),
        message.string if isinstance(message.string, tuple) else (message.string,),
        strict=True,
    )
    for part in re.split(r"%\(\w+\)[sr]", str(english))
    if part.strip(" .,;:'\n") not in german
}
OWN = "".join(path.read_text(encoding="utf-8") for path in BY_HAND.rglob("*.yaml"))
KEYWORDS = {"film under foil"}
"""What is typed as it is in every language."""
ENGLISH = sorted(
    part
    for part in PARTS - KEYWORDS
    if len(part.split()) >= 3 and part.casefold() not in OWN.casefold()
)
"""What stands between the values of an English message of three words or more.

Not what the record itself says, in its writer's words.
"""


def english_in(text: str) -> list[str]:
    flat = " ".join(text.split())
    return [part for part in ENGLISH if " ".join(part.split()) in flat]


@pytest.fixture(autouse=True)
def _german(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FAIRSMOKE_LANGUAGE", "de")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path: Path = tmp_path_factory.mktemp("german") / "hall.fairsmoke"
    notebook_of_folder(path, BY_HAND).close()
    return path


@pytest.fixture
def book(made: Path, tmp_path: Path) -> str:
    shutil.copy(made, tmp_path / "hall.fairsmoke")
    return str(tmp_path / "hall.fairsmoke")


def said(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    capsys.readouterr()
    run(arguments)
    captured = capsys.readouterr()
    return captured.out + captured.err


def test_the_check_finds_english() -> None:
    assert len(ENGLISH) > 900
    assert english_in("there is no notebook x; name yours with -n, or start one with y")


@pytest.mark.parametrize(
    "arguments",
    [
        ["show"],
        ["show", "TRIAL"],
        ["list", "event"],
        ["list", "exclusion"],
        ["history"],
        ["history", "event", "nothing"],
        ["check"],
        ["correct", "cook", "may", "name=Maikochen", "--why", "Name"],
        ["correct", "cook", "may", "name", "--why", "Name"],
        ["correct", "cook", "may", "id=june", "--why", "Name"],
        ["correct", "cook", "may", "starts=gestern", "--why", "Name"],
        ["correct", "cook", "nothing", "name=x", "--why", "Name"],
        ["strike", "cook", "may", "--why", "x"],
        ["strike", "nothing", "may", "--why", "x"],
        ["bring-back", "cook", "may", "--why", "x"],
        ["copy", "BOOK"],
        ["read", "NOWHERE"],
        ["read", "BY-HAND"],
        ["write", "BOOK"],
        ["look", "FILE"],
        ["look", "BOOK"],
        ["take-in", "FILE", "--cook", "may"],
        ["take-in", "FILE", "--cook", "nothing", "--yes"],
        ["take-in", "FILE", "--cook", "may", "--yes", "--probe", "Pit=", "--probe", "Meat 1="],
        ["serve", "--listen", "here"],
        ["serve", "--certificate", "none.pem"],
        ["serve", "--watch", "NOWHERE"],
        ["serve", "--mqtt", "a:b"],
        ["start", "Hall", "--time-zone", "Mars/Base"],
        ["start", "Hall", "--time-zone", "Europe/London"],
    ],
    ids=" ".join,
)
def test_no_english_is_left(
    arguments: list[str], book: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "log.csv"
    file.write_text(
        "Time,Pit,Meat 1\n"
        + "".join(
            f"02/05/2026 1{n // 60}:{n % 60:02d}:00,{225 + n % 7},{40 + n}\n" for n in range(90)
        )
    )
    places = {
        "BOOK": book,
        "FILE": str(file),
        "NOWHERE": str(tmp_path / "nowhere"),
        "BY-HAND": str(BY_HAND),
        "TRIAL": TRIAL,
    }
    given = [places.get(one, one) for one in arguments]
    if arguments[0] != "look":
        given += ["-n", book]
    text = said(given, capsys)
    assert text.strip()
    assert english_in(text) == []


def test_every_help_is_german(capsys: pytest.CaptureFixture[str]) -> None:
    from fairsmoke.cli.commands import app

    verbs = [one.name for one in app.registered_commands]
    for arguments in ([], *([verb] for verb in verbs if verb)):
        text = said([*arguments, "--help"], capsys)
        assert "Aufruf: " in text
        assert "Diese Hilfe zeigen." in text
        assert english_in(text) == [], arguments
        assert "[required]" not in text
        assert "default:" not in text


def test_what_is_written_wrongly_is_told_in_german(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments, expected in (
        (["nothing"], "Den Befehl 'nothing' gibt es nicht."),
        (["show", "--nothing"], "Die Option --nothing gibt es nicht"),
        (["strike", "event", "e1"], "Es fehlt die Option '--why'."),
        (["strike", "event"], "Es fehlt das Argument 'handle'."),
        (["serve", "--port", "x"], "'--port': Es muss eine ganze Zahl sein"),
        (["serve", "--port", "99999"], "'--port': Es darf höchstens 65535 sein"),
        (["tell", "--paper", "b5"], "'--paper': 'b5' ist keins von 'a4', 'us-letter'."),
        (["copy"], "Es fehlt das Argument 'target'."),
    ):
        text = said(arguments, capsys)
        assert expected in text
        assert text.startswith("Aufruf: ")
