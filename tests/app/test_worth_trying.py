"""Which method is worth trying, in the app: asked, cooked beside it, stopped, gone on, told.

The numbers are the command's own: the page's are held against ``answer_of`` on the same sweep.
"""

import re
import time
from pathlib import Path
from uuid import uuid4

import pytest
from fastapi import FastAPI
from tests.app.clients import Client, SignIn, event_entry

from fairsmoke.answers.queue import JobStage
from fairsmoke.answers.worth_trying import WorthTrying, missing
from fairsmoke.answers.worth_trying_options import settings_of
from fairsmoke.app.pages.worth_trying import GOAL_NAMES, WRAP_KINDS, asked_of, usual_fields
from fairsmoke.app.people.permissions import Role
from fairsmoke.planning.methods.space import GOALS, KEPT_IN, WRAPS, DesignSpace, MethodSettings
from fairsmoke.quantity import METRIC, US
from fairsmoke.telling.worth_trying import CAUTIONS, GOAL_WORDS, SAFETY_WORDS

NARROW = "\u00a0"
SMALL = {"methods": "8", "wrap-foil": "", "wrap-boat": "", "pan": "without"}


def form_of(**changed: str) -> dict[str, str]:
    fields = {**usual_fields(METRIC), **SMALL, **changed}
    return {name: said for name, said in fields.items() if said}


def key_of(answer: object) -> str:
    location: str = answer.headers["location"]  # type: ignore[attr-defined]
    return location.rsplit("/", 1)[1]


def shown_at(client: Client, key: str) -> str:
    """Return the answer's page; what must not be broken over lines is in it with usual spaces."""
    return plain(client.get(f"/worth-trying/{key}").text)


def plain(text: str) -> str:
    return text.replace(NARROW, " ")


def until_done(app: FastAPI, key: str) -> None:
    work = app.state.jobs.find(key)
    assert work is not None
    assert work.ended.wait(240)
    assert work.stage is JobStage.DONE, work.problem


def test_words_are_those_of_the_planning() -> None:
    assert set(GOAL_NAMES) == set(GOAL_WORDS) == set(GOALS)
    assert set(WRAP_KINDS) <= set(WRAPS)


def test_the_usual_form_asks_for_the_usual_ranges() -> None:
    """To the digits that are shown: a degree, which 107 °C as 225 °F moves by a third."""
    for units in (METRIC, US):
        asked = asked_of(usual_fields(units), units)
        assert missing(asked) is None
        space = asked.space
        usual = DesignSpace()
        for knob in ("pit_c", "wrap_at_c", "until_c", "hold_c"):
            span, wanted = getattr(space, knob), getattr(usual, knob)
            assert abs(span.low - wanted.low) < 0.5
            assert abs(span.high - wanted.high) < 0.5
        assert (space.hold_s, space.wraps, space.pans) == (usual.hold_s, usual.wraps, usual.pans)
        base = settings_of(asked.base)
        assert base.wrap == MethodSettings().wrap
        assert abs(base.until_c - MethodSettings().until_c) < 0.5


def test_a_bare_number_has_the_persons_unit_and_a_comma_is_decimal() -> None:
    asked = asked_of(form_of(**{"pit-low": "107,5", "pit-high": "120"}), METRIC)
    assert asked.ranges["pit"] == "107.5 °C to 120 °C"
    asked = asked_of(form_of(**{"pit-low": "225", "pit-high": ""}), US)
    assert asked.ranges["pit"] == "225 °F"
    assert asked_of(form_of(**{"worth-yield": "1,5"}), METRIC).worthwhile == "1.5 points,1 h"


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"pit-low": "hot"}, "Pit"),
        ({"pit-low": "150", "pit-high": "110"}, "give the lower end first"),
        ({"hold-low": "50"}, "below the 57"),
        ({"piece-thick": ""}, "Where it is thickest"),
        ({"wrap-bare": "", "wrap-paper": ""}, "at least one"),
        ({"methods": "7"}, "7 methods: write a whole number from 8 to 1,000"),
        ({"methods": "many"}, "whole number"),
        ({"price_piece": "dear"}, "write a number"),
        ({"worth-time": ""}, "nothing is written"),
        ({"base-pit": "90 °C"}, "never brings a core"),
        ({f"goal-{goal}": "" for goal in GOALS}, "at least one goal"),
    ],
)
def test_what_is_wrong_is_said_beside_the_form(
    cook: Client, app: FastAPI, changed: dict[str, str], said: str
) -> None:
    answer = cook.form("/worth-trying", **form_of(**changed))
    assert answer.status_code == 422
    alert = answer.text.partition('role="alert"')[2].partition("</p>")[0]
    assert said in alert
    assert "--" not in alert
    for field, value in changed.items():
        if value and field.endswith("low"):
            assert f'value="{value}"' in answer.text


def test_the_answer_stands_behind_its_cautions(cook: Client, app: FastAPI) -> None:
    sent = form_of(price_piece="60", price_cook="25", currency="EUR")
    answer = cook.form("/worth-trying", **sent)
    assert answer.status_code == 303
    key = key_of(answer)
    until_done(app, key)
    html = shown_at(cook, key)
    numbers = cook.get(f"/worth-trying/{key}/numbers.json").json()
    first = html.index('<dl class="facts">')
    for words in (*(caution.english for caution in CAUTIONS[:1]), "Take this as a rough guide"):
        assert 0 < html.replace("&#39;", "'").index(words[:60]) < first
    for caution in CAUTIONS:
        assert caution.english[:60] in html.replace("&#39;", "'")
    assert "local code" in html
    # Every listed method with all of its goals and what is told of its safety.
    cards = html.split('<dl class="facts">')[1:]
    assert len(cards) == len(numbers["listed"]) > 0
    for card in cards:
        for told, _ in (*GOAL_WORDS.values(), *SAFETY_WORDS.values()):
            if told is not GOAL_WORDS["cap"][0]:
                assert told.english in card
    yields = numbers["methods"][numbers["listed"][0]]["values"]["yield"]
    digits = 0 if yields["high"] - yields["low"] >= 0.03 else 1
    middle, low, high = (f"{100 * yields[e]:.{digits}f}" for e in ("middle", "low", "high"))
    assert f"{middle} % ({low} to {high} %)" in cards[0]
    # None that breaks a limit is offered.
    for at in numbers["listed"]:
        assert all(kept >= KEPT_IN for kept in numbers["methods"][at]["limits_kept"].values())
    # The ranking has six numbers of pairs, with what they cost: pieces and cooks by hand.
    assert "✓" in html
    assert html.count('<th scope="col" >Chance that so many pairs settle it') == 2
    assert "cost, EUR" in html
    assert '>145</td><td class="number">290</td>' in html
    assert cook.get(f"/worth-trying/{key}/pictures/chart.svg").text.startswith("<svg")
    assert cook.get(f"/worth-trying/{key}/pictures/chart.png").content[:4] == b"\x89PNG"
    chart = cook.get(f"/api/worth-trying/{key}/chart?width=360&dark=true").json()
    drawn = {row["number"] for rows in chart["datasets"].values() for row in rows}
    assert {str(n + 1) for n in range(len(cards))} <= drawn
    offered = [one for one in numbers["methods"] if one["allowed"]]
    listed = cook.get(f"/worth-trying/{key}/methods").text
    rows = len(re.findall(r'<th scope="row"[^>]*>', listed))
    assert rows == len(offered)
    # MethodSweep again it comes at once; other prices need no cook anew.
    assert key_of(cook.form("/worth-trying", **sent)) == key
    assert key in cook.get("/worth-trying").text
    assert 'value="60"' in cook.get(f"/worth-trying?again={key}").text
    simulated = set(app.state.settings.results.rglob("*.npz"))
    assert simulated
    dearer = key_of(cook.form("/worth-trying", **{**sent, "price_piece": "90"}))
    assert dearer != key
    until_done(app, dearer)
    assert '>205</td><td class="number">410</td>' in shown_at(cook, dearer)
    assert set(app.state.settings.results.rglob("*.npz")) == simulated
    _asks_a_trial(cook, app, key)
    _says_it_in_the_persons_way(cook, key)


def _asks_a_trial(cook: Client, app: FastAPI, key: str) -> None:
    html = cook.get(f"/worth-trying/{key}").text
    ways = re.findall(r'href="(/ask\?worth=[^"]+)"', html)
    assert ways
    for way in ways:
        form = cook.get(way.replace("&amp;", "&")).text
        fields = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', form))
        chosen = re.findall(
            r'<select id="[^"]+" name="([^"]+)">(?:(?!</select>).)*?value="([^"]*)" selected', form
        )
        fields |= dict(chosen)
        fields |= {"pieces": "s-1: 5.5 kg\ns-2: 5.6 kg", "cooker": "New", "positions": "A, B"}
        del fields["csrf"]
        answer = cook.form("/ask", **{**fields, "cooker": f"New {ways.index(way)}"})
        assert answer.status_code == 303, answer.text
        asked = app.state.book.trials()[-1]
        assert len(asked.arms) == 2
        assert asked.arms[0].name != asked.arms[1].name
    assert cook.get("/ask?worth=no-such&measure=7&row=-1").status_code == 200


def _says_it_in_the_persons_way(cook: Client, key: str) -> None:
    way = {"language": "de", "temperature": "F", "mass": "lb", "clock": "24", "theme": "auto"}
    assert cook.form("/you", **way).status_code == 303
    html = shown_at(cook, key)
    assert "°F" in html
    assert "107 °C" not in html
    assert "Zur Auswahl" in html
    for english in ("points", "off at", "held", "draws", "Salmonella, log10 reduction in"):
        assert english not in re.sub(r"<[^>]*>", " ", html)


def test_it_can_be_stopped_and_goes_on_where_it_was(cook: Client, app: FastAPI) -> None:
    key = key_of(cook.form("/worth-trying", **form_of(methods="300")))
    work = app.state.jobs.find(key)
    begin = time.monotonic()
    while work.done < 2:
        assert work.going, work.problem
        assert time.monotonic() - begin < 120
        time.sleep(0.05)
    # An entry from a phone is accepted while it cooks.
    posted = cook.send_json("/api/entries", event_entry(str(uuid4())))
    assert posted.status_code in (200, 201), posted.text
    assert "data-working" in cook.get(f"/worth-trying/{key}").text
    assert cook.form(f"/worth-trying/{key}/stop").status_code == 303
    assert work.ended.wait(30)
    assert work.stage is JobStage.STOPPED
    done = work.done
    assert 0 < done < work.of
    assert "Stopped." in cook.get(f"/worth-trying/{key}").text
    cook.form(f"/worth-trying/{key}/go-on")
    again = app.state.jobs.find(key)
    while not again.done:
        assert again.going, again.problem
        assert time.monotonic() - begin < 240
        time.sleep(0.05)
    assert again.done >= done
    app.state.jobs.stop(key)
    assert again.ended.wait(30)


def test_tasters_see_nothing_of_it_and_helpers_do(sign_in: SignIn, visitor: Client) -> None:
    taster, helper = sign_in(Role.TASTER), sign_in(Role.HELPER)
    for path in ("/worth-trying", "/worth-trying/some", "/worth-trying/some/methods"):
        assert taster.get(path).status_code == 403
        assert visitor.get(path, follow_redirects=False).status_code in (303, 401)
    assert taster.form("/worth-trying", **form_of()).status_code == 403
    assert "worth-trying" not in taster.get("/").text
    assert helper.get("/worth-trying").status_code == 200


def test_it_is_a_tap_away(cook: Client) -> None:
    for path in ("/", "/ask", "/trials/paper-or-bare/ask"):
        assert 'href="/worth-trying"' in cook.get(path).text


def test_what_is_no_longer_kept_is_said_so(cook: Client) -> None:
    for path in (
        "/worth-trying/no-such",
        "/worth-trying/%2E%2E%2Ftold",
        "/worth-trying/no-such/methods",
        "/worth-trying/no-such/pictures/chart.svg",
        "/worth-trying/no-such/numbers.json",
        "/api/worth-trying/no-such/chart",
    ):
        assert cook.get(path).status_code == 404, path
    assert cook.form("/worth-trying/no-such/go-on").status_code == 404
    assert cook.get("/worth-trying?again=no-such").status_code == 200


def test_the_key_is_of_all_that_is_asked() -> None:
    one = asked_of(form_of(), METRIC)
    assert WorthTrying(**one.__dict__).key == one.key
    assert asked_of(form_of(currency="EUR"), METRIC).key != one.key


def test_results_lie_in_the_results_folder(cook: Client, app: FastAPI, tmp_path: Path) -> None:
    key = key_of(cook.form("/worth-trying", **form_of(seed="2")))
    app.state.jobs.stop(key)
    assert (tmp_path / "results" / "worth-trying" / key).is_dir()
