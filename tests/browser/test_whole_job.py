"""The invented trial's last night, from setting up to the finding, entirely through the app.

The phone's clock is set to when each thing was done, and the loggers send as fast as they can: a
night of eighteen hours takes a minute, and so do the ten minutes without a connection. What the
notebook holds at the end is held against the demo's own record of that night, which never went
through the app.
"""

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import httpx2
import numpy as np
import paho.mqtt.publish
import pytest
from playwright.sync_api import BrowserContext, Page, expect
from tests.app.server import Server
from tests.app.test_mqtt import PASSWORD, Mosquitto
from tests.browser.conftest import PHONE, Visit
from tests.browser.hands import Hands, until_sent

from fairsmoke.answers.demonstration_tonight import make_tonight
from fairsmoke.app.pages.cook_weigh import SUMS
from fairsmoke.judging.judge import judge
from fairsmoke.notebook import Notebook
from fairsmoke.telling.as_json import finding_json
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Event
from fairsmoke.trial.kitchen import Kitchen
from fairsmoke.trial.probe import Placement
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import Weighing

SignIn = Callable[[BrowserContext], Page]
NIGHT, ZONE = "october", ZoneInfo("Europe/London")
WHOLE_NIGHT = timedelta(hours=18, minutes=30)
OFFLINE_FROM = timedelta(hours=7)
OFFLINE = 30
EVERY = timedelta(seconds=20)
"""Thirty entries, one every twenty seconds: ten minutes."""
HTTP_PROBES, MQTT_PROBES = ("pit-left", "pit-right"), ("core-1", "core-2", "cabinet")


@dataclass(frozen=True)
class Night:
    """What really happened, as the demo's record says."""

    record: TrialRecord
    now: datetime

    @property
    def lit(self) -> datetime:
        return self.record.cook(NIGHT).starts


@pytest.fixture(scope="module")
def night(tmp_path_factory: pytest.TempPathFactory) -> Night:
    path = tmp_path_factory.mktemp("night") / "demo.db"
    now = datetime.now(UTC)
    trial = make_tonight(path, now, lit_ago=WHOLE_NIGHT)
    with Notebook.open(path) as book:
        record = book.load_trial(trial)
    weighed = [in_grams(one) for one in (*record.weighings, *last_weighings(record))]
    return Night(replace(record, weighings=tuple(weighed)), now)


def in_grams(one: Weighing) -> Weighing:
    """Return a weighing as somebody types it who prefers kg; one was read in pounds."""
    grams = round(1000 * one.reading_kg)
    return one.model_copy(update={"reading_kg": grams / 1000, "written": f"{grams} g"})


def last_weighings(record: TrialRecord) -> list[Weighing]:
    """Return what the demo's cook weighed on other nights or guessed: invented here."""
    at = record.cook(NIGHT).starts + timedelta(hours=18, minutes=24)
    trays = {"green tray": 0.415, "blue tray": 0.420, "white tray": 0.390, "trim tray": 0.150}
    rest = [("shoulder-5", name, kg) for name, kg in trays.items()]
    rest += [("shoulder-5", "clinging fat", 0.024), ("shoulder-6", "clinging fat", 0.019)]
    return [
        Weighing.model_validate(
            {
                "id": f"last-{number}",
                "cook": NIGHT,
                "piece": piece,
                "scale": "kitchen-scale",
                "at": at + timedelta(seconds=10 * number),
                "reading_kg": kg,
                "sum": (name,),
            }
        )
        for number, (piece, name, kg) in enumerate(rest)
    ]


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """Give a running app on a notebook in which nothing is recorded yet."""
    path = tmp_path / "hall.db"
    kitchen = Kitchen(name="Village hall (invented)", time_zone=ZONE.key, invented=True)
    Notebook.create(path, kitchen).close()
    running = Server(path).start()
    yield running
    running.close()


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    made = Mosquitto(tmp_path)
    made.start()
    yield made
    made.stop()


def set_up(hands: Hands, night: Night) -> None:
    """Write down kitchen, trial, cook and pieces."""
    record = night.record
    for cooker in record.cookers:
        hands.add_cooker(cooker)
    for probe in record.probes:
        hands.add_probe(probe)
    for scale in record.scales:
        hands.add_scale(scale)
    hands.start_trial(record.trial)
    cooker_names = [cooker.name for cooker in record.cookers]
    hands.start_cook(record.cook(NIGHT).name, night.lit, cooker_names)
    arms = {arm.id: arm.name for arm in record.trial.arms}
    for piece in record.pieces:
        if piece.cook == NIGHT:
            assert piece.arm is not None
            assert piece.spot is not None
            hands.add_piece(piece, arms[piece.arm], spot_name(record, piece.spot.text))


def spot_name(record: TrialRecord, spot: str) -> str:
    """Return a spot as the app's choices write it."""
    cooker, position = spot.split("/")
    found = next(one for one in record.cookers if one.id == cooker)
    place = next(one for one in found.positions if one.id == position)
    return f"{found.name}, {place.name}"


class Loggers:
    """Two loggers: one sends over HTTP with a token, the other to the broker."""

    def __init__(self, night: Night, address: str, token: str, port: int) -> None:
        self.night, self.address, self.port = night, address, port
        self.headers = {"Authorization": f"Bearer {token}"}
        self.sent = dict.fromkeys((*HTTP_PROBES, *MQTT_PROBES), 0)
        self.batches = 0

    def send_until(self, moment: datetime) -> None:
        """Send what was read since the last time up to a moment, in one batch a logger."""
        if http := self._readings(HTTP_PROBES, moment):
            answer = httpx2.post(
                f"{self.address}/api/readings", json=self._batch(http), headers=self.headers
            )
            assert answer.status_code == 200, answer.text
        if mqtt := self._readings(MQTT_PROBES, moment):
            paho.mqtt.publish.single(
                "fairsmoke/needles/readings",
                json.dumps(self._batch(mqtt)),
                qos=1,
                port=self.port,
                auth={"username": "pit", "password": PASSWORD},
            )

    def _batch(self, readings: list[dict[str, object]]) -> dict[str, object]:
        self.batches += 1
        return {"id": f"batch-{self.batches}", "unit": "degF", "readings": readings}

    def _readings(self, probes: tuple[str, ...], moment: datetime) -> list[dict[str, object]]:
        found = []
        for probe in probes:
            held = self.night.record.readings[NIGHT, probe]
            until = int(held.time_ms.searchsorted(epoch_ms(moment), side="right"))
            for n in range(self.sent[probe], until):
                value = f"{held.value[n]:.{held.decimals}f}"
                found.append({"channel": probe, "value": value, "at_ms": int(held.time_ms[n])})
            self.sent[probe] = until
        return sorted(found, key=lambda one: int(str(one["at_ms"])))


def connect(hands: Hands, night: Night, server: Server, broker: Mosquitto) -> Loggers:
    """Give the logger a token and name the broker, on the pages for that."""
    page = hands.page
    page.goto("/readings/broker")
    hands.fill({"host": "127.0.0.1", "port": str(broker.port), "user": "pit", "password": PASSWORD})
    page.get_by_role("button", name="Save").click()
    page.goto("/readings")
    # A broker keeps nothing for whom it has never seen.
    expect(page.locator("[data-told]")).to_contain_text("Connected", timeout=20_000)
    page.goto("/readings/devices")
    hands.fill({"name": "Barrel logger"})
    page.get_by_role("button", name="Make a token").click()
    token = page.locator("code.long").first.inner_text()
    return Loggers(night, server.address, token, broker.port)


def name_channels(hands: Hands, night: Night, probes: tuple[str, ...]) -> None:
    """Say which probe each channel is, once something has come from it."""
    names = {probe.id: probe.name for probe in night.record.probes}
    page = hands.page
    for probe in probes:
        page.goto("/readings")
        card = page.locator("li.channel", has=page.get_by_role("heading", name=probe, exact=True))
        expect(card).to_be_visible()
        card.get_by_role("combobox").select_option(label=names[probe])
        card.get_by_role("button", name=re.compile("^Save")).click()
        expect(card.get_by_role("combobox")).to_have_value(re.compile(r"\w"))


class Pit:
    """The night at the pit: each thing is done when the phone's clock shows its time."""

    def __init__(self, hands: Hands, night: Night, loggers: Loggers) -> None:
        self.hands, self.night, self.loggers = hands, night, loggers
        record = night.record
        self.pieces = {one.id: one.name for one in record.pieces}
        self.cookers = {one.id: one.name for one in record.cookers}
        self.scales = {one.id: one.name for one in record.scales}
        self.probes = {one.id: one.name for one in record.probes}
        self.named = False

    def at(self, moment: datetime) -> None:
        self.hands.page.clock.set_fixed_time(moment)

    def steps(self) -> list[tuple[datetime, Event | Weighing | Placement]]:
        """Return everything that was done that night, in order of time."""
        record = self.night.record
        done: list[tuple[datetime, Event | Weighing | Placement]] = []
        done += [(one.at, one) for one in record.events if one.cook == NIGHT]
        done += [(one.since, one) for one in record.placements if one.cook == NIGHT]
        done += [(one.at, one) for one in record.weighings if one.cook == NIGHT and one.at]
        return sorted(done, key=lambda one: (one[0], isinstance(one[1], Weighing)))

    def live_through(self, since: datetime, until: datetime) -> None:
        """Do what was done from one moment up to another."""
        for moment, what in self.steps():
            if since <= moment < until:
                self.at(moment)
                self.loggers.send_until(moment)
                self.do(what)
        self.at(until)
        self.loggers.send_until(until)

    def do(self, what: Event | Weighing | Placement) -> None:
        hands = self.hands
        if isinstance(what, Weighing):
            hands.weigh(what, self.scales[what.scale], self.pieces[what.piece or ""], SUMS)
        elif isinstance(what, Placement):
            spot = spot_name(self.night.record, what.spot.text) if what.spot else ""
            where = self.pieces[what.piece] if what.piece else spot
            place = where if what.measures != "cabinet" else ""
            hands.place_probe(self.probes[what.probe], what.measures, place)
        else:
            hands.go_to_pit()
            if what.cooker and what.kind in ("fuel", "water", "lid"):
                hands.tend(what.kind, self.cookers[what.cooker])
            else:
                # Paper off after the pull: the app would rather hear of the hold.
                act = hands.do_unasked if what.kind == "unwrap" else hands.do
                for piece in what.pieces:
                    act(what.kind, self.pieces[piece])


OFFLINE_EVENTS = ("fuel", "lid", "spritz", "water", "lid")


def without_connection(pit: Pit, server: Server) -> None:
    """Ten minutes without a connection: thirty entries, the app killed, the page closed."""
    hands, context = pit.hands, pit.hands.page.context
    hands.go_to_pit()
    hands.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    hands.page.reload()
    until_sent(hands.page)
    context.set_offline(True)
    for number in range(OFFLINE):
        pit.at(pit.night.lit + OFFLINE_FROM + number * EVERY)
        if number == 10:
            server.kill()
        if number == 15:
            hands.page.close()
            hands.page = context.new_page()
            hands.go_to_pit()
            expect(hands.page.locator("[data-offline]")).to_be_visible()
        if number == 20:
            server.start()
        hands.tend(OFFLINE_EVENTS[number % len(OFFLINE_EVENTS)], "The barrel")
        expect(hands.page.locator("[data-queue-count]")).to_have_text(str(number + 1))
    context.set_offline(False)
    until_sent(hands.page)


def events_of(record: TrialRecord, cook: str) -> list[tuple[datetime, str, str]]:
    """Return (when, what, whose name) of events, one for each piece, in order."""
    names = {one.id: one.name for one in record.pieces}
    names |= {one.id: one.name for one in record.cookers}
    return sorted(
        (event.at, event.kind.value, names[whose])
        for event in record.events
        if event.cook == cook
        for whose in (event.pieces if event.kind != "lid" else ()) or (event.cooker or "",)
    )


def weighings_of(record: TrialRecord, cook: str) -> list[tuple[object, ...]]:
    """Return (when, piece, scale, grams, parts) of weighings, in order."""
    pieces = {one.id: one.name for one in record.pieces}
    scales = {one.id: one.name for one in record.scales}
    return sorted(
        (
            one.at,
            pieces[one.piece or ""],
            scales[one.scale],
            round(1000 * one.reading_kg),
            tuple(part.text for part in one.sum),
        )
        for one in record.weighings
        if one.cook == cook
    )


def test_a_night_from_the_question_to_the_finding(
    visit: Visit, server: Server, sign_in: SignIn, night: Night, broker: Mosquitto
) -> None:
    # Pages and scripts are the same at a desk; that all is in reach there is in test_every_page.
    hands = Hands(sign_in(visit(PHONE)), zone=ZONE)
    set_up(hands, night)
    loggers = connect(hands, night, server, broker)
    pit = Pit(hands, night, loggers)
    began, middle = night.lit - timedelta(hours=1), night.lit + OFFLINE_FROM
    all_read = night.lit + timedelta(hours=2)
    pit.live_through(began, all_read)
    name_channels(hands, night, (*HTTP_PROBES, "core-1", "core-2"))
    pit.live_through(all_read, middle)
    until_sent(hands.page)
    without_connection(pit, server)
    pit.live_through(middle, night.now)
    name_channels(hands, night, ("cabinet",))
    hands.end_cook()
    until_sent(hands.page)
    compare(server, hands, night)
    sees_the_finding(hands, night)


def sees_the_finding(hands: Hands, night: Night) -> None:
    """Hold the finding on the screen against one made of the demo's record of that night."""
    page = hands.page
    page.goto(f"/trials/{hands.trial}")
    page.get_by_role("link", name="Finding").first.click()
    verdict = page.locator("p.verdict").first
    # The page looks again by itself while it is worked out.
    expect(verdict).to_be_visible(timeout=90_000)
    made = finding_json(judge(that_night(night, hands.cook), made=night.now))["measures"]
    shown = page.request.get(f"/trials/{hands.trial}/finding.json").json()["measures"]
    assert [one["name"] for one in shown] == [one["name"] for one in made]
    numbers, expected = numbers_of(shown[0]), numbers_of(made[0])
    assert len(expected) > 10
    assert numbers == pytest.approx(expected, rel=1e-6, abs=1e-9)


def numbers_of(content: object) -> list[float]:
    """Return every number in a piece of JSON, in order."""
    if isinstance(content, dict):
        return [one for value in content.values() for one in numbers_of(value)]
    if isinstance(content, list):
        return [one for value in content for one in numbers_of(value)]
    if isinstance(content, int | float) and not isinstance(content, bool):
        return [float(content)]
    return []


def that_night(night: Night, cook: str) -> TrialRecord:
    """Return the demo's record of that night alone, as far as the app records it.

    Weighings have the handles that the app gives: the ledger's draws go by them.
    """
    record = night.record
    weighed = [one for one in record.weighings if one.cook == NIGHT and one.at is not None]
    in_order = enumerate(sorted(weighed, key=lambda one: one.at or night.now), start=1)
    return replace(
        record,
        cooks=(record.cook(NIGHT).model_copy(update={"ends": night.now}),),
        pieces=tuple(one for one in record.pieces if one.cook == NIGHT),
        placements=tuple(one for one in record.placements if one.cook == NIGHT),
        events=tuple(one for one in record.events if one.cook == NIGHT),
        weighings=tuple(
            one.model_copy(update={"id": f"{cook}-weighing-{n}"}) for n, one in in_order
        ),
        readings={key: held for key, held in record.readings.items() if key[0] == NIGHT},
        estimates=(),
        samples=(),
        ballots=(),
        exclusions=(),
        sources=(),
        registration=None,
    )


def compare(server: Server, hands: Hands, night: Night) -> None:
    """Hold what the app recorded against the demo's record of the same night."""
    with Notebook.open(server.notebook) as book:
        assert book.check() == ()
        record = book.load_trial(hands.trial)
        in_order = book.list(Event, trial=hands.trial)
    begin = night.lit + OFFLINE_FROM
    offline = [one for one in in_order if begin <= one.at < begin + OFFLINE * EVERY]
    # Each once and in the order in which they were made.
    assert [(one.at, one.kind) for one in offline] == [
        (begin + number * EVERY, OFFLINE_EVENTS[number % len(OFFLINE_EVENTS)])
        for number in range(OFFLINE)
    ]
    others = replace(record, events=tuple(one for one in record.events if one not in offline))
    assert events_of(others, hands.cook) == events_of(night.record, NIGHT)
    assert weighings_of(record, hands.cook) == weighings_of(night.record, NIGHT)
    names = {one.name: one.id for one in record.probes}
    for probe in night.record.probes:
        there = record.readings[hands.cook, names[probe.name]]
        sent = night.record.readings[NIGHT, probe.id]
        assert np.array_equal(there.time_ms, sent.time_ms), probe.name
        assert np.allclose(there.value_c, sent.value_c, atol=1e-9), probe.name
