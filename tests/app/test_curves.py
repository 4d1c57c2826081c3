"""Curves of a cook: no spike is lost at any zoom, the same numbers everywhere, pictures to save."""

import csv
import io
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from tests.app.clients import COOK, TRIAL, Client

from fairsmoke.app.charts_script import script
from fairsmoke.notebook import Notebook
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.reading import Readings

CHART = f"/api/trials/{TRIAL}/cooks/{COOK}/chart"
FILES = f"/trials/{TRIAL}/cooks/{COOK}/curves"
SPIKE_AT = datetime(2026, 5, 3, 3, 0, 17, tzinfo=UTC)


@pytest.fixture
def logged(book: Notebook) -> Readings:
    """Add a reading a second for five hours, level at 110.0 °C but for one second at 160.0 °C."""
    start = epoch_ms(datetime(2026, 5, 3, 1, tzinfo=UTC))
    time_ms = start + 1000 * np.arange(5 * 3600, dtype=np.int64)
    raw = np.full(time_ms.size, 1100, dtype=np.int64)
    raw[time_ms == epoch_ms(SPIKE_AT)] = 1600
    made = Readings(time_ms, raw, 1, "degC", np.zeros(time_ms.size, dtype=np.uint8))
    book.add_readings(TRIAL, COOK, {"pit-1": made})
    return made


def pit(spec: dict) -> list[dict]:  # type: ignore[type-arg]
    number = next(at for at, name in enumerate(spec["usermeta"]["curves"]) if "Pit" in name)
    rows = next(iter(spec["datasets"].values()))
    return [row for row in rows if row["c"] == str(number)]


@pytest.mark.usefixtures("logged")
@pytest.mark.parametrize("width", [200, 640, 2000])
def test_a_spike_of_a_second_is_seen_however_far_one_is(cook: Client, width: int) -> None:
    spec = cook.get(CHART, params={"width": width}).json()
    rows = pit(spec)
    assert len(rows) <= width + 10
    assert max(row["u"] for row in rows) == 160.0


@pytest.mark.usefixtures("logged")
def test_near_enough_each_reading_stands_for_itself(cook: Client) -> None:
    since, until = SPIKE_AT - timedelta(minutes=1), SPIKE_AT + timedelta(minutes=1)
    asked = {"since": since.isoformat(), "until": until.isoformat(), "width": "640"}
    spec = cook.get(CHART, params=asked).json()
    rows = pit(spec)
    assert len(rows) == 121
    assert sum(row["v"] == 160.0 for row in rows) == 1
    assert all(row["l"] == row["v"] == row["u"] for row in rows)
    about = spec["usermeta"]
    assert datetime.fromisoformat(about["since"]) == since
    assert datetime.fromisoformat(about["until"]) == until
    assert spec["encoding"] if "encoding" in spec else spec["layer"]


def test_numbers_come_in_ones_own_unit(cook: Client) -> None:
    fahrenheit = {"temperature": "F", "mass": "lb", "clock": "12", "language": "en"}
    before = pit(cook.get(CHART).json())
    cook.form("/you", **fahrenheit, theme="auto")
    spec = cook.get(CHART).json()
    assert spec["usermeta"]["unit"] == "°F"
    for one, other in zip(before, pit(spec), strict=True):
        assert other["v"] == pytest.approx(1.8 * one["v"] + 32, abs=0.02)


@pytest.mark.usefixtures("logged")
def test_the_table_has_the_same_numbers_as_the_chart(cook: Client) -> None:
    html = cook.get(f"/trials/{TRIAL}/curves").text
    assert "110.0 … 160.0" in html
    rows = list(csv.reader(io.StringIO(cook.get(f"{FILES}.csv").text)))
    assert rows[0] == ["curve", "time (UTC)", "mean (°C)", "lowest (°C)", "highest (°C)"]
    assert max(float(row[4]) for row in rows[1:] if "Pit" in row[0]) == 160.0


def test_pictures_can_be_saved(cook: Client) -> None:
    svg, png = cook.get(f"{FILES}.svg"), cook.get(f"{FILES}.png")
    assert svg.text.startswith("<svg")
    assert png.content.startswith(b"\x89PNG")
    assert cook.get(f"{FILES}.gif").status_code == 404


def test_stretches_that_cannot_be_show_the_whole_cook(cook: Client) -> None:
    whole = cook.get(CHART).json()["usermeta"]
    for since, until in (
        ("2030-01-01T00:00:00Z", "2030-01-02T00:00:00Z"),
        ("2026-05-03T05:00:00Z", "2026-05-03T04:00:00Z"),
        ("1970-01-01T00:00:00Z", "9999-12-31T23:59:59Z"),
    ):
        found = cook.get(CHART, params={"since": since, "until": until}).json()["usermeta"]
        assert (found["since"], found["until"]) == (whole["first"], whole["last"])
    assert cook.get(f"/trials/{TRIAL}/curves?since=yesterday").status_code == 422


def test_the_script_is_gathered_once_and_kept(cook: Client, visitor: Client) -> None:
    html = cook.get(f"/trials/{TRIAL}/curves").text
    path = html.split('data-script="')[1].split('"')[0]
    answer = cook.get(path)
    assert "immutable" in answer.headers["cache-control"]
    assert "fairsmokeCharts" in answer.text
    assert "https://cdn" not in answer.text
    results = cook.app.state.settings.results  # type: ignore[attr-defined]
    before = script(results).stat().st_mtime_ns
    assert script(results).stat().st_mtime_ns == before
    assert visitor.get(path, follow_redirects=False).status_code == 303
    assert cook.get("/charts/other.js").status_code == 404
