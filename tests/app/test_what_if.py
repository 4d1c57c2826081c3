"""What-ifs: asked in a form, simulated beside the app, stopped and gone on with, kept."""

import contextlib
import re
import time
from pathlib import Path

import psutil
from fastapi import FastAPI
from tests.app.clients import TRIAL, Client
from tests.app.server import Server

from fairsmoke.answers.queue import JobStage
from fairsmoke.answers.what_if import simulation_by_hand
from fairsmoke.app.pages.what_if_form import filled, kept_form, usual_form, with_unit
from fairsmoke.cooking import CUTS
from fairsmoke.quantity import METRIC, US
from fairsmoke.setting_up.method import WRAPS as QUICK_WRAPS
from fairsmoke.telling.simulator_words import CUT_NAMES, HUMIDITY, STANDING, WRAPS
from fairsmoke.trial.protocol import Humidity

QUICK = {"draws": "40", "body": "quick"}


def form_of(**changed: str) -> dict[str, str]:
    form = usual_form(METRIC)
    sent = {f"piece-{name}": value for name, value in form.piece.items()}
    for at, method in enumerate(form.methods):
        sent |= {f"arm{at}-{name}": value for name, value in method.items()}
    sent |= {f"kitchen-{name}": value for name, value in form.kitchen.items()}
    return {**sent, **QUICK, **changed}


def until_done(app: FastAPI, key: str) -> None:
    work = app.state.jobs.find(key)
    assert work is not None
    assert work.ended.wait(180)


def test_words_of_the_form_are_the_simulators() -> None:
    assert set(CUT_NAMES) <= set(CUTS)
    assert {code or "bare" for code in WRAPS} <= set(QUICK_WRAPS)
    assert set(HUMIDITY) <= {str(one) for one in Humidity}


def test_arms_stand_side_by_side_behind_their_caution(cook: Client, app: FastAPI) -> None:
    answer = cook.form("/what-if", **form_of())
    assert answer.status_code == 303
    key = answer.headers["location"].rsplit("/", 1)[1]
    until_done(app, key)
    html = cook.get(answer.headers["location"]).text
    assert html.index(str(STANDING)[:40]) < html.index("time on the cooker")
    for words in ("121 °C, bare", "121 °C, paper", "yield", "collagen dissolved", "Salmonella"):
        assert words in html
    assert cook.get(f"/what-if/{key}/pictures/chart.svg").text.startswith("<svg")
    _says_it_in_the_persons_way(cook, key)
    numbers = cook.get(f"/what-if/{key}/numbers.json").json()
    assert numbers["simulated"] is True
    assert [arm["name"] for arm in numbers["arms"]] == ["121 °C, bare", "121 °C, paper"]
    # Asked again it comes at once: nothing is simulated twice.
    again = cook.form("/what-if", **form_of())
    assert again.headers["location"] == answer.headers["location"]
    assert app.state.jobs.find(key).stage is JobStage.DONE
    assert key in cook.get("/what-if").text


def _says_it_in_the_persons_way(cook: Client, key: str) -> None:
    """What is kept is said in each reader's own language and units, chart and all."""
    usual = {"temperature": "C", "mass": "kg", "clock": "24", "theme": "auto"}
    assert cook.form("/you", language="de", **usual | {"temperature": "F"}).status_code == 303
    html = cook.get(f"/what-if/{key}").text
    assert "Was zu erwarten ist" in html
    assert "°F" in html
    text = re.sub(r"<[^>]*>", " ", html)
    for english in ("draws", "points", "every draw", "yield", "Take this as"):
        assert english not in text
    assert "verdampft" in cook.get(f"/what-if/{key}/pictures/chart.svg").text
    assert "unverpackt" in cook.get("/what-if").text
    assert cook.form("/you", language="en", **usual).status_code == 303


def test_what_is_wrong_is_said_beside_the_form(cook: Client) -> None:
    answer = cook.form("/what-if", **form_of(**{"arm1-pit": "hot"}))
    assert answer.status_code == 422
    assert "pit" in answer.text
    assert 'value="hot"' in answer.text
    answer = cook.form("/what-if", **form_of(**{"piece-thick": ""}))
    alert = answer.text.partition('role="alert"')[2].partition("</p>")[0]
    assert "Where it is thickest" in alert
    assert "--" not in alert


def test_a_bare_number_has_the_persons_unit() -> None:
    assert with_unit("pit", "250", US) == "250 °F"
    assert with_unit("pit", "121,5", METRIC) == "121.5 °C"
    assert with_unit("mass", "12", US) == "12 lb"
    assert with_unit("hold_for", "2", METRIC) == "2 h"
    assert with_unit("pit", "121 °C", US) == "121 °C"


def test_a_rival_is_the_first_arm_but_for_what_it_says() -> None:
    sent = form_of(**{"arm0-wrap": "foil", "arm1-wrap": "-", "arm1-pit": "135"})
    asked = filled(sent, METRIC).asked()
    base, rival = asked.methods
    assert (rival["wrap"], rival["pit"], rival["until"]) == ("", "135 °C", base["until"])
    names = [arm.name for arm in simulation_by_hand(asked).plan.arms]
    assert names == ["121 °C, foil", "135 °C, bare"]
    back = kept_form(asked)
    assert back.methods[1]["wrap"] == "-"
    assert back.asked() == asked


def test_a_trials_arms_on_its_pieces(cook: Client, app: FastAPI) -> None:
    path = f"/trials/{TRIAL}/what-if"
    assert "shoulder" in cook.get(path).text.lower()
    assert cook.form(path, **QUICK).status_code == 422
    answer = cook.form(path, **QUICK, **{"piece-shoulder-1": "yes"})
    key = answer.headers["location"].rsplit("/", 1)[1]
    until_done(app, key)
    html = cook.get(answer.headers["location"]).text
    # The record by hand measures no piece: the page says what to record.
    assert "its length is not recorded" in html


def test_it_can_be_stopped_and_goes_on_where_it_was(
    cook: Client, app: FastAPI, tmp_path: Path
) -> None:
    sent = form_of(body="whole", draws="400")
    answer = cook.form("/what-if", **sent)
    key = answer.headers["location"].rsplit("/", 1)[1]
    work = app.state.jobs.find(key)
    begin = time.monotonic()
    while not work.done:
        assert time.monotonic() - begin < 120
        time.sleep(0.1)
    assert cook.form(f"/what-if/{key}/stop").status_code == 303
    assert work.ended.wait(30)
    assert work.stage is JobStage.STOPPED
    done = work.done
    assert 0 < done < work.of
    assert "Stopped." in cook.get(f"/what-if/{key}").text
    cook.form(f"/what-if/{key}/go-on")
    work = app.state.jobs.find(key)
    while not work.done:
        assert time.monotonic() - begin < 240
        time.sleep(0.1)
    # The first thing that is told is already beyond what was kept.
    assert work.done > done
    app.state.jobs.stop(key)
    assert work.ended.wait(30)


def test_what_is_no_longer_kept_is_said_so(cook: Client) -> None:
    assert cook.get("/what-if/no-such").status_code == 404
    assert cook.get("/what-if/%2E%2E%2Ftold").status_code == 404


def test_no_child_outlives_an_app_that_was_killed(server: Server) -> None:
    server.start()
    with contextlib.closing(server.client()) as client:
        client.post("/what-if", data=form_of(body="whole", draws="400"))
    children: list[psutil.Process] = []
    begin = time.monotonic()
    while not children:
        assert time.monotonic() - begin < 60
        children = psutil.Process(server.pid).children()
        time.sleep(0.1)
    time.sleep(1.0)
    server.kill()
    _, alive = psutil.wait_procs(children, timeout=30)
    assert alive == []
