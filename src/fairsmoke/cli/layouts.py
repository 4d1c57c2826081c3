"""Show how a logger's file is laid out, and read and write that as a file a person can edit."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fairsmoke.arriving.take_in import zone_notes
from fairsmoke.cli.screen import out, reader_here, said, say, table
from fairsmoke.intake.layout import Mapping as Layout
from fairsmoke.intake.read import LoggerFile
from fairsmoke.intake.recognise import Recognition
from fairsmoke.intake.series import ProbeSeries
from fairsmoke.intake.text import IntakeError
from fairsmoke.messages.errors import JobError, message_of
from fairsmoke.messages.message import N_, placed
from fairsmoke.quantity import METRIC, US, show_temperature
from fairsmoke.trial.clock import instant_of_ms, time_zone
from fairsmoke.trial.cook import Cook


def mapping_of(path: Path) -> Layout:
    """Read a mapping written by hand. Raises JobError or IntakeError for what is wrong in it."""
    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    try:
        content = YAML(typ="safe", pure=True).load(path.read_text(encoding="utf-8"))
    except UnicodeDecodeError as error:
        line = error.object.count(b"\n", 0, error.start) + 1
        raise JobError(
            N_(
                "%(path)s is not text in UTF-8, line %(line)s; save it as UTF-8",
                path=path,
                line=line,
            )
        ) from error
    except YAMLError as error:
        raise JobError(
            N_("%(path)s is not YAML: %(error)s", path=path, error=message_of(error))
        ) from error
    if not isinstance(content, dict):
        raise JobError(
            N_("%(path)s: write a mapping as 'key: value' lines (docs/logger-files.md)", path=path)
        )
    try:
        return Layout.from_dict(content)
    except IntakeError as error:
        raise IntakeError(placed(str(path), error)) from error


def write_mapping(path: Path, layout: Layout, probes: Mapping[str, str | None]) -> None:
    """Write a mapping that ``mapping_of`` reads, with the probes that are settled so far.

    Raises JobError when the file exists.
    """
    from ruamel.yaml import YAML

    check_is_new(path)
    content = layout.to_dict()
    if not layout.one_reading_a_row:
        for index in layout.numbers("value"):
            probe = probes.get(layout.probe_name(index))
            if probe is not None:
                content["columns"][index] |= {"probe": probe} if probe else {"use": "ignore"}
    columns: list[dict[str, Any]] = content.pop("columns")
    yaml = YAML()
    with path.open("w", encoding="utf-8") as stream:
        stream.write("# How a logger's file is laid out (docs/logger-files.md).\n")
        for point in layout.open_points:
            stream.write(f"# Still to be said: {point}\n")
        yaml.dump({**content, "columns": columns}, stream)


def check_is_new(path: Path | None) -> None:
    """Raise JobError when a file to be written is there already."""
    if path is not None and path.exists():
        raise JobError(N_("%(path)s is there already; give the mapping another name", path=path))


_ABOUT = {
    "encoding": N_("encoding"),
    "separator": N_("separator"),
    "decimal mark": N_("decimal mark"),
    "header": N_("header"),
    "times": N_("times"),
    "date order": N_("date order"),
    "time zone": N_("time zone"),
}
_SURE = {"certain": N_("certain"), "likely": N_("likely"), "guess": N_("guess")}


def show_recognition(found: Recognition, *, questions: bool = True) -> None:
    """Print what was recognised, the first rows, and the open questions."""
    seen = table(N_("what"), N_("taken as"), N_("how sure"), N_("because"))
    for decision in found.decisions:
        about = said(_ABOUT.get(decision.about, decision.about))
        sure, reason = said(_SURE[decision.sure]), said(decision.reason)
        seen.add_row(about, said(decision.choice), sure, reason)
    out.print(seen)
    rows = table(*(found.header or found.preview[0]), title=N_("First rows"))
    for fields in found.preview[:5]:
        rows.add_row(*fields)
    out.print(rows)
    if questions:
        for question in found.questions:
            say(N_("Asked: %(asked)s", asked=question.asked))


def show_as_read(
    read: LoggerFile, layout: Layout, probes: Mapping[str, str | None], cook: Cook
) -> None:
    """Print what a file says when it is read so: times as they are meant, values in °C and °F."""
    if read.first_ms is not None:
        written, meant = read.first_time, _moment(read.first_ms, cook)
        say(
            N_(
                "The first row's time, %(written)r, is read as %(meant)s.",
                written=written,
                meant=meant,
            )
        )
    shown = table(
        N_("in the file"),
        N_("probe"),
        N_("unit"),
        N_("readings"),
        N_("first"),
        N_("last"),
        title=N_("Read so"),
    )
    for series in read.series:
        probe = probes.get(series.probe)
        shown.add_row(
            series.probe,
            probe or (said(N_("left out")) if probe == "" else "?"),
            series.readings.unit,
            f"{len(series.readings):,}",
            _reading(series, 0, cook),
            _reading(series, -1, cook),
        )
    out.print(shown)
    for note in (*zone_notes(read, cook), *read.notes):
        say(note)
    if read.rows_bad:
        say(
            N_(
                "%(rows_bad)s of %(rows_read)s rows cannot be read.",
                rows_bad=read.rows_bad,
                rows_read=read.rows_read,
            )
        )


def _reading(series: ProbeSeries, at: int, cook: Cook) -> str:
    readings = series.readings
    if not len(readings):
        return said(N_("none"))
    value_c = float(readings.value_c[at])
    both = f"{show_temperature(value_c, METRIC, 1)} ({show_temperature(value_c, US)})"
    return f"{both}, {_moment(int(readings.time_ms[at]), cook)}"


def _moment(time_ms: int, cook: Cook) -> str:
    """Write an instant with its day and month in words, so that a wrong date order is seen."""
    zone = time_zone(cook.time_zone)
    local = instant_of_ms(time_ms).astimezone(zone)
    reader = reader_here()
    if reader.language == "en":
        return f"{local:%A} {local.day} {local:%B %Y}, {local:%H:%M:%S}"
    return f"{reader.long_day(local, zone)}, {local:%H:%M:%S}"
