"""The same file again: what of it was taken in before, and whether it was read alike."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

from fairsmoke.arriving.known_layouts import LayoutAnswer
from fairsmoke.intake.read import LoggerFile
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, OnFace
from fairsmoke.notebook import Notebook
from fairsmoke.trial.source import Source

LONGEST = 20_000
"""Longest text that a source keeps of how it was read; a longer one is not kept."""

_PROBES = "probes"


def reading_told(found: LoggerFile, answer: LayoutAnswer, names: Mapping[str, str]) -> str:
    """Return how a file was read, and which of its names are which probe, as JSON."""
    layout = answer.layout
    units: dict[str, list[str]] = {}
    for series in found.series:
        if names.get(series.probe):
            units.setdefault(series.probe, []).append(series.readings.unit)
    told = {
        "time_form": layout.time_form,
        "date_order": layout.date_order,
        "twelve_hour": layout.twelve_hour,
        "decimal_mark": layout.decimal_mark,
        "zone": found.zone,
        "start": answer.start.isoformat() if answer.start else "",
        _PROBES: {name: {"probe": names[name], "units": units[name]} for name in units},
    }
    text = json.dumps(told)
    return text if len(text) <= LONGEST else ""


def sources_of_file(notebook: Notebook, trial: str, cook: str, sha256: str) -> tuple[Source, ...]:
    """Return the sources that took that file in for that cook, in the order of taking in."""
    return tuple(
        one for one in notebook.list(Source, trial=trial, cook=cook) if one.sha256 == sha256
    )


def check_read_alike(before: Sequence[Source], told: str) -> None:
    """Raise JobError when a file was taken in before in another way: its times or probes differ.

    What was taken in wrongly must be struck out first, else each reading would be there twice.
    """
    now = json.loads(told) if told else {}
    for source in before:
        earlier = json.loads(source.mapping) if source.mapping else {}
        differing = _differences(earlier, now) if earlier and now else []
        if differing:
            raise JobError(
                N_(
                    "%(source)s was taken in before, as %(source_2)s, in another way "
                    "(%(differing)s). If that was wrong: %(strike)s, then take the file in again",
                    strike=OnFace(
                        f"fairsmoke strike source {source.id} --why '…'",
                        N_("take it back under Files, with the reason"),
                    ),
                    source=source.file_name,
                    source_2=source.id,
                    differing="; ".join(differing),
                )
            )


def _differences(earlier: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    found = [
        f"{key}: {earlier[key] or 'not said'}, now {value or 'not said'}"
        for key, value in now.items()
        if key != _PROBES and key in earlier and earlier[key] != value
    ]
    for name, how in now[_PROBES].items():
        was = earlier[_PROBES].get(name, how)
        if was != how:
            found.append(f"{name!r}: {_how(was)}, now {_how(how)}")
    return found


def _how(how: Mapping[str, Any]) -> str:
    return f"{how['probe']} in {' and '.join(how['units'])}"


def probes_in(notebook: Notebook, trial: str, before: Sequence[Source]) -> set[str]:
    """Return the probes of sources that do not tell how they were read: they count as whole."""
    untold = {source.id for source in before if not source.mapping}
    return {span.probe for span in notebook.spans(trial) if span.source in untold}
