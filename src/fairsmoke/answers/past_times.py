"""How far the cooks of a notebook ran from what the simulator makes of them, for the next day."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from fairsmoke.answers.simulation import simulate_side_by_side
from fairsmoke.answers.simulation_trial import SimulationOptions, plan_of_trial
from fairsmoke.answers.store import Store
from fairsmoke.messages.errors import InputError, JobError
from fairsmoke.messages.message import N_, InputField
from fairsmoke.notebook import Notebook
from fairsmoke.planning.day.steps import run_of
from fairsmoke.planning.day.time_errors import Miss
from fairsmoke.quantity import QuantityError, parse_duration
from fairsmoke.trial.cook import Cook, EventKind
from fairsmoke.trial.record import TrialRecord

PAST_COOKS = 6
"""So many of the latest cooks are looked at: what a kitchen did long ago tells of another pit."""
_DRAWS = 48
_FARTHEST = 3.0
_ON_TIME = ("on time", "pünktlich", "wie geplant")


@dataclass(frozen=True)
class PastCook:
    """A cook that is over, with the record that it stands in."""

    record: TrialRecord
    cook: Cook


def past_cooks(book: Notebook, but: str = "") -> tuple[PastCook, ...]:
    """Return the latest cooks of all trials whose pieces were put on and pulled, but for one."""
    found = []
    for trial in book.trials():
        record = book.load_trial(trial.id, lazy=True)
        pulled = {one.cook for one in record.events if one.kind is EventKind.PULL}
        found += [
            PastCook(record, cook)
            for cook in record.cooks
            if cook.ends is not None and cook.id in pulled and cook.id != but
        ]
    return tuple(sorted(found, key=lambda one: one.cook.starts)[-PAST_COOKS:])


def past_misses(past: Iterable[PastCook], store: Store | Path | None) -> tuple[Miss, ...]:
    """Return ln(measured/simulated) of every piece's time from putting on to pulling.

    A piece that lacks a size, or whose protocol the simulator cannot run, tells nothing.
    """
    return tuple(miss for one in past for miss in _of_cook(one, store))


def _of_cook(past: PastCook, store: Store | Path | None) -> Iterator[Miss]:
    record = past.record
    for piece in (one for one in record.units if one.cook == past.cook.id):
        on = record.events_of(piece.id, EventKind.ON)
        off = record.events_of(piece.id, EventKind.PULL)
        if not on or not off or off[-1].at <= on[0].at:
            continue
        options = SimulationOptions(pieces=(piece.id,), members=_DRAWS, whole_body=False)
        try:
            sides = plan_of_trial(record, options).plan
            arm = next(one for one in sides.arms if one.id == piece.arm)
            stages = len(run_of(arm.protocol).before)
            found = simulate_side_by_side(replace(sides, arms=(arm,)), store)
        except InputError:
            continue
        ends = found.cooked[arm.id, piece.id].stage_end_s[:, stages - 1]
        logs = np.log(ends[np.isfinite(ends)])
        if logs.size < _DRAWS // 2:
            continue
        took_s = (off[-1].at - on[0].at).total_seconds()
        ratio = float(np.log(took_s) - np.median(logs))
        name = f"{record.trial.id} {past.cook.id}"
        yield Miss(name, ratio, float(np.std(logs)))


def misses_said(text: str) -> tuple[Miss, ...]:
    """Return what a person says of the last cooks, each by a comma or semicolon.

    "+10 %" took a tenth longer than planned, "11 h/10 h" took 11 h where 10 h was planned, and
    "on time" says itself. Raises JobError that names the field and how to write it.

    >>> [round(one.log_ratio, 3) for one in misses_said("+10 %, 9 h/10 h, on time")]
    [0.095, -0.105, 0.0]
    """
    parts = [part.strip() for part in re.split(r"[;,](?!\d)", text) if part.strip()]
    ratios = [_ratio(part) for part in parts]
    return tuple(Miss(f"said {k}", float(np.log(ratio)), 0.0) for k, ratio in enumerate(ratios, 1))


def _ratio(part: str) -> float:
    word = part.casefold().replace("−", "-")
    if word in _ON_TIME:
        return 1.0
    try:
        if "/" in word:
            took, planned = (parse_duration(one.strip()) for one in word.split("/"))
            ratio = took / planned
        elif word.endswith("%"):
            ratio = 1.0 + float(word.removesuffix("%").replace(",", ".").strip()) / 100.0
        else:
            raise ValueError(part)
        if not 1 / _FARTHEST <= ratio <= _FARTHEST:
            raise ValueError(part)
    except (ValueError, ZeroDivisionError, QuantityError):
        message = N_(
            "%(field)s “%(part)s”: write for each cook how far it ran from plan, such as +10 %%, "
            "on time, or 11 h/10 h (took 11 h, planned 10 h), with commas between; up to three "
            "times as long or as short.",
            field=InputField("last_cooks"),
            part=part,
        )
        raise JobError(message, field="last_cooks") from None
    return ratio
