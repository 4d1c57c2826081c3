"""Findings on pages: the same that the judge says, kept, seen by whom it may, and taken away."""

import io
import json
import re
import zipfile
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pypdf
import pytest
from fastapi import FastAPI
from tests.app.clients import COOK, TRIAL, Client, SignIn

from fairsmoke.answers.finding_queue import Findings
from fairsmoke.app.pages.home import known_spots
from fairsmoke.app.people.permissions import Role
from fairsmoke.judging.judge import judge
from fairsmoke.messages.message import Sentence
from fairsmoke.notebook import Notebook
from fairsmoke.notebook.folder.transfer import notebook_of_folder
from fairsmoke.telling.as_json import finding_json
from fairsmoke.telling.finding.answer import verdict_sentence

FINDING = f"/trials/{TRIAL}/finding"


@pytest.fixture
def worked_out(app: FastAPI) -> Findings:
    """Have the finding worked out, in a process of its own as ever."""
    findings: Findings = app.state.findings
    seen = findings.wait(TRIAL, 120)
    assert seen.fresh
    return findings


def test_a_finding_is_worked_out_beside_the_page_and_says_what_the_judge_says(
    cook: Client, app: FastAPI, book: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fairsmoke.app.pages.finding.WAIT_S", 0.0)
    html = cook.get(FINDING).text
    assert "The finding is being worked out" in html
    assert "<noscript><meta http-equiv=" in html
    app.state.findings.wait(TRIAL, 120)
    html = cook.get(FINDING).text
    found = judge(book.load_trial(TRIAL), made=datetime.now(UTC))
    difference = found.main.differences[0]
    assert str(verdict_sentence(found, found.main, difference)) in html
    assert "Exploratory: no plan was registered before" in html
    for classical in difference.classical:
        assert classical.name in html
    for remark in found.remarks:
        assert str(Sentence(remark)) in html


@pytest.mark.usefixtures("worked_out")
def test_what_is_kept_is_shown_without_working_it_out_again(
    cook: Client, app: FastAPI, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(*_: object, **__: object) -> None:
        raise AssertionError("nothing has changed")

    monkeypatch.setattr(app.state.jobs, "submit", none)
    assert "What it rests on" in cook.get(FINDING).text
    assert "How it was worked out" in cook.get(f"{FINDING}/parts/methods").text
    assert cook.get(f"{FINDING}/parts/no-such").status_code == 404
    assert cook.get(f"{FINDING}/parts/..%2Fanswer").status_code == 404
    assert cook.get(f"/trials/{TRIAL}/weighings").status_code == 200


def test_another_app_on_the_same_record_finds_it_kept(
    worked_out: Findings, app: FastAPI, book: Notebook
) -> None:
    from fairsmoke.app.factory import create_app

    before = worked_out.look(TRIAL)
    other = create_app(app.state.settings, book)
    after = other.state.findings.wait(TRIAL, 120)
    other.state.jobs.close()
    assert after.fresh
    assert before.entry is not None
    assert after.entry is not None
    assert after.entry.folder == before.entry.folder
    assert after.document is not None
    assert before.document is not None
    assert after.document.brief["made"] == before.document.brief["made"]


def test_a_finding_of_an_older_record_says_so_until_the_new_one_is_there(
    worked_out: Findings, cook: Client, book: Notebook
) -> None:
    before = worked_out.look(TRIAL).entry
    book.correct("weighing", "first-fire-weighing-4", {"note": "read twice"}, why="t", trial=TRIAL)
    assert "Something was recorded since" in cook.get(FINDING).text
    assert cook.form(FINDING).status_code == 303
    seen = worked_out.wait(TRIAL, 120)
    assert seen.fresh
    assert seen.entry is not None
    assert before is not None
    assert seen.entry.folder != before.folder


def test_what_cannot_be_judged_is_said_with_its_mend(cook: Client, book: Notebook) -> None:
    for handle in ("shoulder-1", "shoulder-2"):
        book.correct("piece", handle, {"arm": None}, why="t", trial=TRIAL)
    findings: Findings = cook.app.state.findings  # type: ignore[attr-defined]
    findings.wait(TRIAL, 120)
    html = cook.get(FINDING).text
    assert "No finding yet" in html
    assert "record which piece got which" in html


def test_only_who_may_sees_a_finding(sign_in: SignIn) -> None:
    for role in (Role.HELPER, Role.TASTER):
        other = sign_in(role, name=f"Other {role}")
        for path in (FINDING, f"{FINDING}.json", f"/trials/{TRIAL}/report.pdf", "/what-if"):
            assert other.get(path).status_code == 403, path
    taster = sign_in(Role.TASTER, name="One more")
    for path in ("weighings", "curves", "history", "records/weighing/first-fire-weighing-1"):
        assert taster.get(f"/trials/{TRIAL}/{path}").status_code == 403


@pytest.mark.usefixtures("worked_out")
def test_the_numbers_can_be_taken_away(cook: Client, book: Notebook) -> None:
    content = cook.get(f"{FINDING}.json").json()
    made = datetime.fromisoformat(content["made"])
    own = finding_json(judge(book.load_trial(TRIAL), made=made))
    assert content == json.loads(json.dumps(own))


@pytest.mark.usefixtures("worked_out")
def test_the_report_can_be_taken_away(cook: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fairsmoke.app.pages.finding_files.WAIT_S", 120.0)
    answer = cook.get(f"/trials/{TRIAL}/report.pdf")
    assert answer.headers["content-disposition"] == f'attachment; filename="{TRIAL}-report.pdf"'
    text = pypdf.PdfReader(io.BytesIO(answer.content)).pages[0].extract_text()
    assert "Barbecue trial: the finding" in text


def test_the_record_can_be_taken_away_and_read_in_again(
    cook: Client, book: Notebook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fairsmoke.app.pages.finding_files.WAIT_S", 120.0)
    answer = cook.get(f"/trials/{TRIAL}/record.zip")
    with zipfile.ZipFile(io.BytesIO(answer.content)) as packed:
        packed.extractall(tmp_path / "out")
    with notebook_of_folder(tmp_path / "back.db", tmp_path / "out" / TRIAL) as back:
        came, went = back.load_trial(TRIAL), book.load_trial(TRIAL)
        assert replace(came, readings={}) == replace(went, readings={})
        for key, readings in went.readings.items():
            assert came.readings[key].raw.tolist() == readings.raw.tolist()
            assert came.readings[key].time_ms.tolist() == readings.time_ms.tolist()
        assert back.history(trial=TRIAL) == book.history(trial=TRIAL)


@pytest.mark.usefixtures("worked_out")
def test_charts_are_pictures_of_our_own(cook: Client) -> None:
    html = cook.get(FINDING).text
    assert f"{FINDING}/pictures/" in html
    for name in ("dots-yield", "posterior-yield-0"):
        answer = cook.get(f"{FINDING}/pictures/{name}.svg")
        assert answer.headers["content-type"].startswith("image/svg+xml")
        assert b"<svg" in answer.content
    assert cook.get(f"{FINDING}/pictures/..%2F..%2Fhall.svg").status_code == 404


@pytest.mark.usefixtures("worked_out")
def test_the_first_page_tells_what_was_explored_apart_from_what_was_confirmed(
    cook: Client,
) -> None:
    html = cook.get("/").text
    assert "What has been learned" in html
    assert "Explored: no plan was registered" in html
    assert "Confirmed or not" not in html


def test_a_trial_that_still_cooks_has_taught_nothing_yet(cook: Client, book: Notebook) -> None:
    book.correct("cook", COOK, {"ends": None}, why="goes on", trial=TRIAL)
    assert "What has been learned" not in cook.get("/").text


def test_each_cook_says_once_how_a_place_differs() -> None:
    # By hand: +4 and −4 in one cook, +6 and −6 in the other; s = sqrt(2), s/sqrt(2) = 1. Half of
    # the 95 % interval is t times that; t at 0.975 with 1 degree of freedom is 12.706 in the table
    # of Student's t (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2).
    spots = [
        {"cook": "a", "spot": "pit/left", "mean_c": 118.0},
        {"cook": "a", "spot": "pit/right", "mean_c": 126.0},
        {"cook": "b", "spot": "pit/left", "mean_c": 114.0},
        {"cook": "b", "spot": "pit/right", "mean_c": 126.0},
        {"cook": "c", "spot": "pit/left", "mean_c": 130.0},
    ]
    found = known_spots([{"spots": spots}])
    assert found["pit/right"].hotter_k == pytest.approx(5.0)
    assert found["pit/left"].hotter_k == pytest.approx(-5.0)
    assert found["pit/right"].unsure_k == pytest.approx(12.706, abs=0.0005)
    assert found["pit/left"].cooks == 2


@pytest.mark.usefixtures("worked_out")
def test_a_german_reader_gets_page_picture_and_report_in_german(
    cook: Client, book: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fairsmoke.app.pages.finding_files.WAIT_S", 120.0)
    record = book.load_trial(TRIAL)
    typed = [record.trial.question, *(piece.name for piece in record.pieces)]
    german = {"temperature": "F", "mass": "lb", "clock": "12", "language": "de"}
    cook.form("/you", **german, theme="auto")
    for path in (FINDING, *(f"{FINDING}/parts/{name}" for name in ("measure-0", "cautions"))):
        html = cook.get(path).text
        assert 'lang="en"' not in html
        main = html.split("<main")[1].split("</main")[0]
        for name in typed:
            main = main.replace(name, "")
        shown = re.sub(r"<[^>]+>|“[^”]+”|„[^“]+“", " ", main)
        left = re.findall(r".{0,60}\b(?:the|than|were|each|that|piece)\b.{0,40}", shown)
        assert not left, path
    assert "57 °C" not in html
    assert "°F" in html
    picture = cook.get(f"{FINDING}/pictures/posterior-yield-0.svg").text
    assert "Punkte" in picture
    pdf = pypdf.PdfReader(io.BytesIO(cook.get(f"/trials/{TRIAL}/report.pdf").content))
    assert "Barbecue-Versuch: der Befund" in " ".join(pdf.pages[0].extract_text().split())
