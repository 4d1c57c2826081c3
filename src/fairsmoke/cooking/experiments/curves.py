"""Core temperatures by time from public logs: one file a probe, and what each leaves open.

`curves/*.csv` hold the readings as typed (minutes, °C), with their source in comment lines;
`curves/index.yaml` says what the piece was, where wraps were put on, and the use of each source.
"""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from ruamel.yaml import YAML

from fairsmoke.cooking.experiments.model import Use

RICH = 6
"""Sources with a probe of at least this many usable readings are placed among themselves."""

Cover = Literal["bare", "paper", "foil"]


@dataclass(frozen=True)
class LoggedCurve:
    """One probe of one cook.

    `mass_kg`: least and most mass of the piece; `pit`: (s, °C) from which each set temperature
    holds; `wraps`: (s, cover) from which each holds; `seconds`, `core_c`: the readings after the
    start; `start_c` the core at the start, None where it is not told. `apart` says why a curve is
    kept and not set beside the model, "" if it is.
    """

    key: str
    source: str
    use: Use
    cut: str
    place: str
    mass_kg: tuple[float, float]
    bone: bool
    fan: bool
    pan: bool
    pit: tuple[tuple[float, float], ...]
    wraps: tuple[tuple[float, Cover], ...]
    start_c: float | None
    seconds: tuple[float, ...]
    core_c: tuple[float, ...]
    same_as: str
    apart: str

    @property
    def last_cover(self) -> Cover:
        """The cover at the last reading."""
        held: list[Cover] = [cover for at, cover in self.wraps if at <= self.seconds[-1]]
        return held[-1] if held else "bare"


def assigned_curve_use(curves: Iterable[LoggedCurve]) -> dict[str, Use]:
    """Return the use of each source of curves, by a rule that looks at no reading's value.

    1. A source that stands among the published experiments already (``same_as``) keeps that use.
    2. A source of which every curve is apart is for testing (it is never scored).
    3. The others, those with a curve of RICH readings and those without among themselves, stand in
       the order of the SHA-256 of their address: the 1st, 3rd, … are for fitting.
    """
    by_source: dict[str, list[LoggedCurve]] = {}
    for curve in curves:
        by_source.setdefault(curve.source, []).append(curve)
    use: dict[str, Use] = {}
    groups: dict[bool, list[str]] = {True: [], False: []}
    for source, ones in by_source.items():
        if any(one.same_as for one in ones) or all(one.apart for one in ones):
            use[source] = "test"
        else:
            groups[max(len(one.seconds) for one in ones) >= RICH].append(source)
    for sources in groups.values():
        for place, source in enumerate(sorted(sources, key=_digest)):
            use[source] = "fit" if place % 2 == 0 else "test"
    return use


def _digest(source: str) -> str:
    return hashlib.sha256(source.encode()).hexdigest()


@cache
def curves() -> tuple[LoggedCurve, ...]:
    """Return every curve, by key."""
    folder = files("fairsmoke.cooking.experiments").joinpath("curves")
    index = YAML(typ="safe", pure=True).load(folder.joinpath("index.yaml").read_text("utf-8"))
    return tuple(
        _read(key, told, folder.joinpath(f"{key}.csv").read_text("utf-8"))
        for key, told in sorted(index.items())
    )


def scored(use: Use | None = None) -> list[LoggedCurve]:
    """Return the curves that are set beside the model, of one use if it is named."""
    return [c for c in curves() if not c.apart and (use is None or c.use == use)]


def _read(key: str, told: dict[str, Any], text: str) -> LoggedCurve:
    first, last = told.get("from_min", 0), told.get("until_min", float("inf"))
    times: list[float] = []
    cores: list[float] = []
    steps: list[tuple[float, float]] = []
    start: float | None = None
    for line in text.splitlines():
        if line.startswith("#") or line.startswith("minutes"):
            continue
        minutes, core, pit = line.split(",")
        at = float(minutes)
        if pit and (not steps or float(pit) != steps[-1][1]):
            steps.append((60.0 * at, float(pit)))
        if core and at == 0.0:
            start = float(core)
        elif core and first <= at <= last:
            times.append(60.0 * at)
            cores.append(float(core))
    if "pit" in told:
        steps = [(60.0 * at, float(c)) for at, c in told["pit"]]
    return LoggedCurve(
        key,
        told["source"],
        told["use"],
        told["cut"],
        told.get("place", "any"),
        (float(told["mass_kg"][0]), float(told["mass_kg"][1])),
        told.get("bone", False),
        told.get("fan", False),
        told.get("pan", False),
        tuple(steps),
        tuple((60.0 * at, cover) for at, cover in told.get("wraps", [])),
        start,
        tuple(times),
        tuple(cores),
        told.get("same_as", ""),
        told.get("apart", ""),
    )
