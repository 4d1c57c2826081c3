"""The demo's logger files, read back here by a small reader that shares nothing with the writer."""

import hashlib
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from fairsmoke.demo import DemoTrial, demo_trial
from fairsmoke.demo.logger_files import DemoLoggerFile
from fairsmoke.trial.cook import EventKind

UTC_MAX = datetime.max.replace(tzinfo=UTC)
LONDON = ZoneInfo("Europe/London")
PROBES = ("core-1", "core-2", "pit-left", "pit-right", "cabinet")

# A change alarm only: a new digest means that the demo's bytes changed, which the changelog tells.
DIGESTS = {
    "may-barrel.csv": "b08ce1ef91b852d5323789bd18670453f07b94c436ff4741fe67832690c878b9",
    "july-barrel.csv": "ffe33dd69b1f29a8076c7a242387aa66f9a294077305ee044478c2cce0908e22",
    "october-barrel.tsv": "b9740bebfb16c2daeeb1d847012a6f70287e5c39909c026f9390d315ab94e7f0",
}


@dataclass(frozen=True)
class ReadBack:
    """Instants, and °C by probe (NaN where the file has no number), of one file."""

    shown: dict[str, list[tuple[datetime, float]]]
    odd_lines: list[str]

    def c_at(self, probe: str, at: datetime) -> float:
        return min(self.shown[probe], key=lambda pair: abs(pair[0] - at))[1]

    def between(self, probe: str, since: datetime, until: datetime) -> list[float]:
        return [c for at, c in self.shown[probe] if since <= at < until]


@pytest.fixture(scope="module")
def demo() -> DemoTrial:
    return demo_trial()


def _file(demo: DemoTrial, cook: str) -> DemoLoggerFile:
    (found,) = (file for file in demo.logger_files if file.cook_id == cook)
    return found


def _number(text: str) -> float:
    return float(text) if re.fullmatch(r"-?\d+\.\d", text) else float("nan")


def _read_may(file: DemoLoggerFile) -> ReadBack:
    _, _, header, *rows = file.content.decode("utf-8-sig").splitlines()
    where = {p: header.split(",").index(name) for p, name in file.answers["probes"].items()}
    shown: dict[str, list[tuple[datetime, float]]] = {probe: [] for probe in PROBES}
    for row in rows:
        cells = row.split(",")
        at = datetime.fromisoformat(cells[0]).replace(tzinfo=LONDON).astimezone(UTC)
        for probe, index in where.items():
            shown[probe].append((at, _number(cells[index])))
    return ReadBack(shown, [])


def _read_july(file: DemoLoggerFile) -> ReadBack:
    header, _, *rows = file.content.decode().splitlines()
    where = {p: header.split(";").index(name) for p, name in file.answers["probes"].items()}
    shown: dict[str, list[tuple[datetime, float]]] = {probe: [] for probe in PROBES}
    odd = []
    for row in rows:
        cells = row.split(";")
        if len(cells) != 6 or "---" in cells:
            odd.append(row)
            continue
        local = datetime.strptime(cells[0], "%d.%m.%Y %H:%M")
        at = local.replace(tzinfo=LONDON).astimezone(UTC)
        for probe, index in where.items():
            shown[probe].append((at, _number(cells[index].replace(",", "."))))
    return ReadBack(shown, odd)


def _read_october(file: DemoLoggerFile) -> ReadBack:
    names = {name: probe for probe, name in file.answers["probes"].items()}
    shown: dict[str, list[tuple[datetime, float]]] = {probe: [] for probe in PROBES}
    fold, before = 0, datetime.min
    for row in file.content.decode().splitlines()[1:]:
        stamp, name, value = row.split("\t")
        local = datetime.strptime(stamp, "%m/%d/%Y %I:%M:%S %p")
        if local < before:
            fold = 1
        before = local
        at = local.replace(tzinfo=LONDON, fold=fold).astimezone(UTC)
        shown[names[name]].append((at, (_number(value) - 32) / 1.8))
    return ReadBack(shown, [])


@pytest.fixture(scope="module")
def read_back(demo: DemoTrial) -> dict[str, ReadBack]:
    return {
        "may": _read_may(_file(demo, "may")),
        "july": _read_july(_file(demo, "july")),
        "october": _read_october(_file(demo, "october")),
    }


def test_the_same_seed_gives_the_same_bytes_and_another_seed_others(demo: DemoTrial) -> None:
    again, other = demo_trial(2026), demo_trial(2027)
    assert again == demo
    assert again.logger_files == demo.logger_files
    for file, its_other in zip(demo.logger_files, other.logger_files, strict=True):
        assert file.content != its_other.content


def test_the_bytes_have_not_changed_unnoticed(demo: DemoTrial) -> None:
    found = {f.file_name: hashlib.sha256(f.content).hexdigest() for f in demo.logger_files}
    assert found == DIGESTS


def test_one_file_a_cook_in_three_layouts(demo: DemoTrial) -> None:
    assert [file.cook_id for file in demo.logger_files] == [c.id for c in demo.record.cooks]
    layouts = {
        (a["form"], a["separator"], a["decimal_mark"], a["date_order"], a["unit"])
        for a in (file.answers for file in demo.logger_files)
    }
    assert layouts == {
        ("column a probe", "comma", "point", "year-month-day", "degC"),
        ("column a probe", "semicolon", "comma", "day-month-year", "degC"),
        ("row a probe", "tab", "point", "month-day-year", "degF"),
    }
    may, july, october = (file.content for file in demo.logger_files)
    assert may.startswith(b"\xef\xbb\xbf")
    assert not july.startswith(b"\xef\xbb\xbf")
    assert re.fullmatch(r"2026-05-02T\d\d:\d\d:\d\d,.*", may.decode().splitlines()[3])
    assert re.fullmatch(r"11\.7\.2026 \d\d:\d\d(;\d+,\d){5}", july.decode().splitlines()[2])
    assert re.fullmatch(
        r"10/24/2026 \d:\d\d:\d\d PM\t[\w ]+\t(Err|\d+\.\d)", october.decode().splitlines()[1]
    )


def test_answers_name_the_first_reading_and_every_probe(
    demo: DemoTrial, read_back: dict[str, ReadBack]
) -> None:
    for file in demo.logger_files:
        assert tuple(file.answers["probes"]) == tuple(probe.id for probe in demo.record.probes)
        shown = read_back[file.cook_id].shown
        assert min(stays[0][0] for stays in shown.values()) == file.answers["first_reading"]


def test_rows_come_every_30_60_and_10_seconds(read_back: dict[str, ReadBack]) -> None:
    for cook, step, count in (("may", 30, 2000), ("july", 60, 1000), ("october", 10, 6000)):
        shown = read_back[cook].shown
        times = sorted({at for stays in shown.values() for at, _ in stays})
        steps = [(b - a).total_seconds() for a, b in pairwise(times)]
        assert np.median(steps) == step
        assert len(times) > count
        if cook != "july":
            assert set(steps) == {float(step)}


def test_july_has_a_cut_line_a_damaged_cell_three_rows_of_dashes_and_a_gap(
    read_back: dict[str, ReadBack],
) -> None:
    july = read_back["july"]
    dashes = [line for line in july.odd_lines if line.endswith(";---" * 5)]
    assert len(dashes) == 3
    assert len(july.odd_lines) == 4
    numbers = [c for stays in july.shown.values() for _, c in stays]
    assert np.isnan(numbers).sum() == 1
    times = [at for at, _ in july.shown["core-1"]]
    longest = max(b - a for a, b in pairwise(times))
    assert timedelta(minutes=35) < longest < timedelta(minutes=45)


def test_the_right_side_is_about_7_degrees_hotter(
    demo: DemoTrial, read_back: dict[str, ReadBack]
) -> None:
    for cook in demo.record.cooks:
        events = [event for event in demo.record.events if event.cook == cook.id]
        on = next(event.at for event in events if event.kind is EventKind.ON)
        pull = max(event.at for event in events if event.kind is EventKind.PULL)
        mine = read_back[cook.id]
        left, right = (
            np.nanmean(mine.between(f"pit-{side}", on, pull)) for side in ("left", "right")
        )
        assert right - left == pytest.approx(7.0, abs=1.0)
        # The protocol asks for 121 °C.
        assert (left + right) / 2 == pytest.approx(121.0, abs=3.0)


def test_pieces_are_wrapped_at_the_stall_and_pulled_when_done(
    demo: DemoTrial, read_back: dict[str, ReadBack]
) -> None:
    record = demo.record
    offsets = {probe.id: probe.offset_k for probe in record.probes}
    for piece in record.units:
        stay = next(s for s in record.placements if s.piece == piece.id)
        mine = read_back[stay.cook]
        minute = timedelta(minutes=1)
        for event in record.events_of(piece.id):
            marks = {
                EventKind.WRAP: (70.0, 73.0),
                EventKind.LID: (70.0, 73.0),
                EventKind.PULL: (91.0, 95.0),
            }
            if event.kind in marks and "look at both" not in event.note:
                low, high = marks[event.kind]
                assert low < mine.c_at(stay.probe, event.at - minute) - offsets[stay.probe] < high


def test_the_bare_stall_lasts_for_hours_and_paper_shortens_what_follows(
    demo: DemoTrial, read_back: dict[str, ReadBack]
) -> None:
    """Core 65 to 70 °C for hours: a slow cook in a smoker held near 67 °C for almost 6 h
    (references/physics.md section 3.3, one test)."""
    hours: dict[str, list[float]] = {"bare": [], "paper": []}
    for piece in demo.record.units:
        stay = next(s for s in demo.record.placements if s.piece == piece.id)
        assert stay.until is not None
        inside = read_back[stay.cook].between(stay.probe, stay.since, stay.until)
        stalled = np.mean([66.0 <= c <= 73.0 for c in inside])
        hours[piece.arm or ""].append(
            float(stalled) * (stay.until - stay.since).total_seconds() / 3600
        )
    assert min(hours["bare"]) > 3.0
    assert min(hours["bare"]) > max(hours["paper"])


def test_the_fallen_needle_jumps_up_to_the_pit_air_and_back(
    demo: DemoTrial, read_back: dict[str, ReadBack]
) -> None:
    (out,) = [event for event in demo.record.events if event.kind is EventKind.PROBE_OUT]
    assert out.probe is not None
    mine = read_back[out.cook]
    hour = mine.between(out.probe, out.at + timedelta(minutes=5), out.at + timedelta(minutes=55))
    assert min(hour) > 85.0
    assert mine.c_at(out.probe, out.at - timedelta(minutes=10)) < 75.0
    assert mine.c_at(out.probe, out.at + timedelta(minutes=70)) < 75.0
    (left_out,) = demo.record.exclusions
    believed = [
        c
        for at, c in mine.shown[out.probe]
        if out.at - timedelta(hours=2) < at < out.at + timedelta(hours=3)
        and not (left_out.since and left_out.until and left_out.since <= at < left_out.until)
    ]
    assert max(abs(b - a) for a, b in pairwise(believed)) < 15.0
    assert max(believed) < 75.0


def test_the_moved_needle_reads_the_piece_that_it_was_moved_to(
    demo: DemoTrial, read_back: dict[str, ReadBack]
) -> None:
    (moved,) = [stay for stay in demo.record.placements if stay.where == "beside the bone"]
    assert moved.until is not None
    settled = moved.since + timedelta(minutes=5)
    other = {"core-1": "core-2", "core-2": "core-1"}[moved.probe]
    mine = read_back[moved.cook]
    apart = np.subtract(
        mine.between(moved.probe, settled, moved.until), mine.between(other, settled, moved.until)
    )
    assert np.abs(apart).max() < 2.0


def test_the_october_clock_shows_one_hour_twice(
    demo: DemoTrial, read_back: dict[str, ReadBack]
) -> None:
    """Clocks go from 02:00 back to 01:00 on 25 October 2026 (Summer Time Order 2002, from
    memory), so stamps between 01:00 and 02:00 stand for two hours of rows."""
    text = _file(demo, "october").content.decode()
    repeated = re.findall(r"^10/25/2026 1:\d\d:\d\d AM\t", text, flags=re.MULTILINE)
    assert len(repeated) == 2 * 360
    stamps = [
        datetime.strptime(row.split("\t")[0], "%m/%d/%Y %I:%M:%S %p")
        for row in text.splitlines()[1:]
    ]
    back = [a - b for a, b in pairwise(stamps) if b < a]
    assert back == [timedelta(hours=1) - timedelta(seconds=10)]
    times = sorted(at for stays in read_back["october"].shown.values() for at, _ in stays)
    assert times[-1] - times[0] == stamps[-1] - stamps[0] + timedelta(hours=1)


def test_unplugged_probes_read_err_or_nothing(
    demo: DemoTrial, read_back: dict[str, ReadBack]
) -> None:
    assert "\tErr" in _file(demo, "october").content.decode()
    for cook in ("may", "october"):
        record_of = next(c for c in demo.record.cooks if c.id == cook)
        (cabinet,) = [
            s for s in demo.record.placements if s.cook == cook and s.measures == "cabinet"
        ]
        before = read_back[cook].between("cabinet", record_of.starts, cabinet.since)
        after = read_back[cook].between("cabinet", cabinet.since, record_of.ends or UTC_MAX)
        assert np.isnan(before).all()
        assert not np.isnan(after).any()


def test_the_cabinet_holds_at_66_degrees(demo: DemoTrial, read_back: dict[str, ReadBack]) -> None:
    for cook in demo.record.cooks:
        events = [event for event in demo.record.events if event.cook == cook.id]
        since = min(event.at for event in events if event.kind is EventKind.HOLD)
        until = max(event.at for event in events if event.kind is EventKind.HOLD_END)
        air = read_back[cook.id].between("cabinet", since, until)
        assert np.mean(air) == pytest.approx(66.0, abs=1.0)
