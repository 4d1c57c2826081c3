"""Weighings with their yields; correcting, striking out, bringing back; the history of it all."""

import pytest
from fastapi import FastAPI
from tests.app.clients import TRIAL, Client, SignIn

from fairsmoke.app.people.permissions import Role
from fairsmoke.notebook import Notebook
from fairsmoke.telling.reader import ENGLISH
from fairsmoke.trial.weighing import Weighing

WEIGHING = "first-fire-weighing-2"
RECORD = f"/trials/{TRIAL}/records/weighing/{WEIGHING}"


def test_weighings_stand_with_the_yields_that_follow(cook: Client, app: FastAPI) -> None:
    html = cook.get(f"/trials/{TRIAL}/weighings").text
    assert f"{RECORD}" in html
    seen = app.state.findings.wait(TRIAL, 120)
    html = cook.get(f"/trials/{TRIAL}/weighings").text
    for piece in ("shoulder-1", "shoulder-2"):
        for row in seen.document.pieces[piece]["yields"]:
            shown = ENGLISH.say(row[1])
            assert shown in html
            assert "±" in shown or shown == "not known"
    assert cook.get(f"/trials/{TRIAL}/weighings?cook=no-such").status_code == 404


def fields(cook: Client, number: int, **changed: str) -> dict[str, str]:
    return {"number": str(number), **{f"field-{name}": value for name, value in changed.items()}}


def test_a_correction_keeps_the_old_value_the_person_and_the_reason(
    cook: Client, book: Notebook
) -> None:
    before = book.get(Weighing, WEIGHING, trial=TRIAL)
    sent = {**fields(cook, 1, reading="2.345 kg"), "why": "misread the scale"}
    assert cook.form(RECORD, **sent).status_code == 303
    after = book.get(Weighing, WEIGHING, trial=TRIAL)
    assert after.reading_kg == pytest.approx(2.345)
    assert after == before.model_copy(
        update={"reading_kg": after.reading_kg, "written": after.written}
    )
    last = book.history(Weighing, WEIGHING, trial=TRIAL)[-1]
    assert (last.by, last.why) == ("Cook", "misread the scale")
    for path in (RECORD, f"/trials/{TRIAL}/history", f"/trials/{TRIAL}/history?kind=weighing"):
        html = cook.get(path).text
        assert "misread the scale" in html
        assert "<ins>2.345 kg</ins>" in html
        assert "<del>" in html


def test_a_correction_of_a_sum_of_several_parts(cook: Client, book: Notebook) -> None:
    before = book.get(Weighing, WEIGHING, trial=TRIAL)
    written = " + ".join(part.text for part in before.sum)
    sent = {**fields(cook, 1, sum=f"{written} + used wrap"), "why": "the wrap lay on it too"}
    assert cook.form(RECORD, **sent).status_code == 303
    after = book.get(Weighing, WEIGHING, trial=TRIAL)
    assert [part.text for part in after.sum] == [*(p.text for p in before.sum), "used wrap"]


def test_what_is_sent_back_unchanged_changes_nothing(cook: Client, book: Notebook) -> None:
    import html as html_text
    import re

    page = cook.get(RECORD).text
    sent = {
        name: html_text.unescape(value)
        for name, value in re.findall(r'name="(field-\w+)" value="([^"]*)"', page)
    }
    assert len(sent) > 4
    assert cook.form(RECORD, number="1", why="nothing", **sent).status_code == 303
    assert len(book.history(Weighing, WEIGHING, trial=TRIAL)) == 1


def test_a_bad_correction_is_refused_and_says_why(cook: Client, book: Notebook) -> None:
    for changed, words in (
        ({"reading": "2.3 apples"}, "apples"),
        ({"sum": "wet meat"}, "meat"),
        ({"piece": "nobody"}, "nobody"),
    ):
        answer = cook.form(RECORD, **fields(cook, 1, **changed), why="it was the other")
        assert answer.status_code == 422
        assert words in answer.text
        # What was typed stands in the form still, the reason too.
        for typed in (*changed.values(), "it was the other"):
            assert f'value="{typed}"' in answer.text
    answer = cook.form(RECORD, **fields(cook, 1, reading="2.345 kg"), why=" ")
    assert answer.status_code == 422
    assert len(book.history(Weighing, WEIGHING, trial=TRIAL)) == 1


def test_two_who_correct_at_once_do_not_undo_each_other(cook: Client, book: Notebook) -> None:
    assert cook.form(RECORD, **fields(cook, 1, note="first"), why="t").status_code == 303
    answer = cook.form(RECORD, **fields(cook, 1, note="second"), why="t")
    assert answer.status_code == 409
    assert "Somebody changed this meanwhile" in answer.text
    assert 'value="second"' in answer.text
    assert book.get(Weighing, WEIGHING, trial=TRIAL).note == "first"


def test_striking_out_and_bringing_back(cook: Client, book: Notebook) -> None:
    before = book.get(Weighing, WEIGHING, trial=TRIAL)
    assert cook.form(f"{RECORD}/strike", why="another piece").status_code == 303
    html = cook.get(RECORD).text
    assert "Struck out: it is not counted anywhere." in html
    assert WEIGHING not in [one.id for one in book.list(Weighing, trial=TRIAL)]
    assert cook.form(f"{RECORD}/bring-back", why="it was ours").status_code == 303
    assert book.get(Weighing, WEIGHING, trial=TRIAL) == before
    html = cook.get(f"/trials/{TRIAL}/history").text
    assert html.index("it was ours") < html.index("another piece")
    assert cook.form(f"{RECORD}/bring-back", why="t").status_code == 422


def test_who_may_not_mend_only_looks(sign_in: SignIn, book: Notebook) -> None:
    helper = sign_in(Role.HELPER)
    html = helper.get(RECORD).text
    assert "field-reading" not in html
    assert "Its history" in html
    for path in (RECORD, f"{RECORD}/strike", f"{RECORD}/bring-back"):
        assert helper.form(path, number="1", why="t").status_code == 403
    assert len(book.history(Weighing, WEIGHING, trial=TRIAL)) == 1


def test_what_is_frozen_or_not_there_is_not_changed_here(cook: Client) -> None:
    root = f"/trials/{TRIAL}/records"
    assert cook.get(f"{root}/no-kind/x").status_code == 404
    assert cook.get(f"{root}/weighing/no-such").status_code == 404
    assert cook.form(f"{root}/registration/registration/strike", why="t").status_code == 403
    assert cook.form(f"{root}/kitchen/kitchen", number="1", why="t").status_code == 403


def test_a_long_history_comes_page_by_page(cook: Client, book: Notebook) -> None:
    for number in range(45):
        book.correct("weighing", WEIGHING, {"note": f"n{number:02}"}, why="t", trial=TRIAL)
    first = cook.get(f"/trials/{TRIAL}/history").text
    assert "<ins>n44</ins>" in first
    assert "<ins>n04</ins>" not in first
    older = first.split('class="button" href="')[1].split('"')[0].replace("&amp;", "&")
    second = cook.get(older).text
    assert "<ins>n04</ins>" in second
    assert "<ins>n44</ins>" not in second
    assert "Older" not in second
