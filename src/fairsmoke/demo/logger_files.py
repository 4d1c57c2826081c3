"""Writes what three invented loggers recorded, each in a layout of its own.

may      comma, UTF-8 with a mark at its head, two lines above the header, ISO times, a column a
         probe, °C; a cell is empty while its probe is unplugged
july     semicolon, decimal comma, D.M.YYYY HH:MM, a row of units under the header, °C; the battery
         dies in the middle of a line; later three rows hold only dashes and one cell is damaged
october  tab, M/D/YYYY h:mm:ss AM/PM, one probe a row in turn, °F; "Err" while unplugged; its clock
         follows the change of the clocks, so it shows one hour twice
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal, TypedDict

import numpy as np
from numpy.typing import NDArray

from fairsmoke.demo.scenario import JULY, MAY, PROBES, ZONE, ZONE_NAME
from fairsmoke.demo.temperatures import FloatArray, probe_c
from fairsmoke.demo.timeline import MINUTE, Course, Stay
from fairsmoke.trial.reading import ReadingUnit

Form = Literal["column a probe", "row a probe"]
Separator = Literal["comma", "semicolon", "tab"]
DecimalMark = Literal["point", "comma"]
DateOrder = Literal["year-month-day", "day-month-year", "month-day-year"]

PROBE_IDS = tuple(probe.id for probe in PROBES)
OFFSETS_K = {probe.id: probe.offset_k for probe in PROBES}


class ReaderAnswers(TypedDict):
    """What a person would tell the reader of a file.

    ``first_reading``  the instant (UTC) of the first row
    ``probes``         for each probe of the record, its column, or its name in the rows
    """

    form: Form
    separator: Separator
    decimal_mark: DecimalMark
    date_order: DateOrder
    time_zone: str
    unit: ReadingUnit
    first_reading: datetime
    probes: dict[str, str]


@dataclass(frozen=True)
class DemoLoggerFile:
    """One logger file of the demo: its bytes, and what a person would have to say about it."""

    cook_id: str
    file_name: str
    content: bytes
    answers: ReaderAnswers


@dataclass(frozen=True, eq=False)
class NightProbes:
    """What the probes of one night are in, ready to be read at any times."""

    course: Course
    stays: dict[str, tuple[Stay, ...]]
    grid_s: FloatArray
    surroundings: dict[str, FloatArray]
    rng: np.random.Generator

    def shown_c(self, probe: str, time_s: FloatArray) -> FloatArray:
        """Return what the probe shows, with what it reads too much; NaN while unplugged."""
        seen = probe_c(time_s, self.stays[probe], self.grid_s, self.surroundings, self.rng)
        return np.asarray(seen + OFFSETS_K[probe])


def write_logger_file(watch: NightProbes) -> DemoLoggerFile:
    """Return the file of that night, in the layout of the logger that was used."""
    if watch.course.night is MAY:
        return _iso_columns(watch)
    return _dotted_columns(watch) if watch.course.night is JULY else _long_rows(watch)


def _every(course: Course, first_s: float, step_s: float) -> FloatArray:
    return np.arange(first_s, course.serve + 5 * MINUTE, step_s)


def _local(course: Course, time_s: FloatArray) -> list[datetime]:
    start = course.night.starts
    return [(start + timedelta(seconds=s)).astimezone(ZONE) for s in time_s.tolist()]


def _answers(
    course: Course,
    first_s: float,
    names: Sequence[str],
    form: Form,
    separator: Separator,
    date_order: DateOrder,
    unit: ReadingUnit,
    decimal_mark: DecimalMark = "point",
) -> ReaderAnswers:
    return ReaderAnswers(
        form=form,
        separator=separator,
        decimal_mark=decimal_mark,
        date_order=date_order,
        time_zone=ZONE_NAME,
        unit=unit,
        first_reading=course.at(first_s),
        probes=dict(zip(PROBE_IDS, names, strict=True)),
    )


def _iso_columns(watch: NightProbes) -> DemoLoggerFile:
    course = watch.course
    names = ["Meat 1 (°C)", "Meat 2 (°C)", "Air left (°C)", "Air right (°C)", "Cabinet (°C)"]
    time_s = _every(course, course.logger_on, 30.0)
    columns = [watch.shown_c(probe, time_s).tolist() for probe in PROBE_IDS]
    stamps = [local.replace(tzinfo=None).isoformat() for local in _local(course, time_s)]
    lines = ["Invented logger one,village hall demo", f"Started,{stamps[0]}"]
    lines.append(",".join(["Time", *names]))
    for stamp, *values in zip(stamps, *columns, strict=True):
        cells = ["" if value != value else f"{value:.1f}" for value in values]
        lines.append(",".join([stamp, *cells]))
    answers = _answers(
        course, course.logger_on, names, "column a probe", "comma", "year-month-day", "degC"
    )
    content = ("\n".join(lines) + "\n").encode("utf-8-sig")
    return DemoLoggerFile(course.night.handle, "may-barrel.csv", content, answers)


def _dotted_columns(watch: NightProbes) -> DemoLoggerFile:
    course = watch.course
    names = ["Channel 1", "Channel 2", "Channel 3", "Channel 4", "Channel 5"]
    # Its clock shows no seconds, so its rows are put on whole minutes.
    first_s = float(np.ceil(course.logger_on / MINUTE) * MINUTE)
    time_s = _every(course, first_s, MINUTE)
    columns = [watch.shown_c(probe, time_s).tolist() for probe in PROBE_IDS]
    lines = [";".join(["Date", *names]), ";".join(["", *["°C"] * len(names)])]
    dashes = [course.on + minutes * MINUTE for minutes in (204, 205, 372)]
    damaged = course.on + 498 * MINUTE
    assert course.gap is not None
    dead, alive = course.gap
    for at, local, *values in zip(time_s, _local(course, time_s), *columns, strict=True):
        if dead < at < alive:
            continue
        stamp = f"{local.day}.{local.month}.{local.year} {local:%H:%M}"
        cells = [f"{value:.1f}".replace(".", ",") for value in values]
        if at in dashes:
            cells = ["---"] * len(names)
        if at == damaged:
            cells[3] = cells[3].replace(",", "?,")
        line = ";".join([stamp, *cells])
        lines.append(line[: len(stamp) + 8] if at == dead else line)
    answers = _answers(
        course, first_s, names, "column a probe", "semicolon", "day-month-year", "degC", "comma"
    )
    content = ("\r\n".join(lines) + "\r\n").encode()
    return DemoLoggerFile(course.night.handle, "july-barrel.csv", content, answers)


def _long_rows(watch: NightProbes) -> DemoLoggerFile:
    course = watch.course
    names = ["Meat A", "Meat B", "Grate L", "Grate R", "Warmer"]
    time_s = _every(course, course.logger_on, 10.0)
    # One probe is read every ten seconds, each in its turn.
    turn: NDArray[np.intp] = np.arange(time_s.size) % len(names)
    shown_f = np.empty(time_s.size)
    for index, probe in enumerate(PROBE_IDS):
        mine = turn == index
        shown_f[mine] = watch.shown_c(probe, time_s[mine]) * 1.8 + 32.0
    lines = ["Date and time\tProbe\tTemperature (°F)"]
    for local, index, value in zip(
        _local(course, time_s), turn.tolist(), shown_f.tolist(), strict=True
    ):
        hour, half = (local.hour + 11) % 12 + 1, "AM" if local.hour < 12 else "PM"
        stamp = f"{local.month}/{local.day}/{local.year} {hour}:{local:%M:%S} {half}"
        lines.append(f"{stamp}\t{names[index]}\t{'Err' if value != value else f'{value:.1f}'}")
    answers = _answers(
        course, course.logger_on, names, "row a probe", "tab", "month-day-year", "degF"
    )
    content = ("\r\n".join(lines) + "\r\n").encode()
    return DemoLoggerFile(course.night.handle, "october-barrel.tsv", content, answers)
