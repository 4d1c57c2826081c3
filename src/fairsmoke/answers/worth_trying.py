"""Which method is worth trying: cooks a whole design of methods, and tells what to choose from.

Shows how far it is, can be stopped, and goes on where it stopped.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fairsmoke.answers.how_many import measure_of
from fairsmoke.answers.resume import Progress, go_on, simulation_key
from fairsmoke.answers.simulation_quick import quick_plan
from fairsmoke.answers.store import Key, Store
from fairsmoke.cooking.sweep import Sweep, Swept, check_sweep, run_sweep
from fairsmoke.messages.errors import JobError
from fairsmoke.planning.methods.choice import Asked
from fairsmoke.planning.methods.contrasts import turns_of
from fairsmoke.planning.methods.space import Space, Span, Way
from fairsmoke.quantity import QuantityError, parse_duration, parse_temperature
from fairsmoke.setting_up.method import Method
from fairsmoke.trial.question import Measure

_NAMES = {
    "pit": "pit_c",
    "wrap-at": "wrap_at_c",
    "until": "until_c",
    "hold": "hold_c",
    "hold-for": "hold_s",
}
"""What the options that turn a knob are called in Way and Space."""


def ask_for(
    piece: Mapping[str, str],
    space: Space,
    base: Way,
    *,
    kitchen: Mapping[str, Any] | None = None,
    methods: int = 200,
    members: int = 40,
    whole: int = 4,
    seed: int = 1,
) -> Asked:
    """Return what is to be cooked, from a piece as people write it.

    Raises JobError that names the option that is wrong, or what planning and cooking refuse.
    """
    plan = quick_plan(piece, Method(), kitchen=kitchen)
    one = plan.pieces[0]
    ways = space.fill(methods, seed)
    turns = turns_of(space, base)
    every = list(dict.fromkeys([*ways, base, *(w for t in turns for w in (t.before, t.after))]))
    # A method of the design may itself be an end of a turn; it is cooked once.
    number = {way: at for at, way in enumerate(every)}
    ways = tuple(dict.fromkeys(ways))
    sweep = Sweep(
        one.piece,
        tuple(space.protocol(way) for way in every),
        one.conditions,
        members,
        whole,
        seed,
    )
    check_sweep(sweep)
    places = tuple((number[turn.before], number[turn.after]) for turn in turns)
    title = f"{plan.title}: which method is worth trying"
    return Asked(title, sweep, space, ways, base, number[base], turns, places, tuple(every))


def cook_all(
    asked: Asked,
    folder: Path | Store | None = None,
    *,
    workers: int | None = None,
    progress: Progress | None = None,
    afresh: bool = False,
) -> Swept:
    """Cook every method on all cores; `complete` tells whether it was stopped.

    What is cooked is kept in a store, by default the one in `folder`, under a digest of all inputs
    and of the model, every few seconds and on Ctrl-C; the same question goes on from there.
    Without a folder or store nothing is kept.
    """
    found = Swept.empty(asked.sweep)
    store = Store(folder) if isinstance(folder, Path) else folder
    go_on(
        found,
        None if store is None else store.ask(key_of(asked.sweep)),
        run=lambda told: run_sweep(found, workers=workers, told=told),
        count=lambda one: (int(np.sum(one.done)), one.done.size),
        load=_load,
        save=_save,
        progress=progress,
        afresh=afresh,
    )
    return found


def _read(option: str, said: str) -> float:
    return parse_duration(said) if option == "hold-for" else parse_temperature(said)


def span_of(option: str, said: str, usual: Span) -> Span:
    """Read "107 to 149 °C" or one value; "" keeps the usual. Raises JobError naming the option."""
    if not said.strip():
        return usual
    ends = [part.strip() for part in said.split(" to ")]
    if len(ends) > 2:
        raise JobError(f"--{option} '{said}': write one value, or two with 'to' between")
    if len(ends) == 2 and ends[0].replace(".", "", 1).replace(",", "", 1).isdigit():
        # "107 to 149 °C": both ends have the unit of the last.
        ends[0] += ends[1].lstrip("0123456789.,")
    try:
        values = [_read(option, end) for end in ends]
    except QuantityError as error:
        raise JobError(f"--{option} '{said}': {error}") from error
    return Span(values[0], values[-1])


def space_of(spans: Mapping[str, str], *, wraps: str, pan: str, hold_wrap: str = "foil") -> Space:
    """Return the space of methods from ranges as people write them, by option.

    Raises JobError or PlanError that names the option or what is wrong.
    """
    usual = Space()
    read: dict[str, Any] = {
        _NAMES[option]: span_of(option, said, getattr(usual, _NAMES[option]))
        for option, said in spans.items()
    }
    pans = {"both": (False, True), "without": (False,), "with": (True,)}
    if pan not in pans:
        raise JobError(f"--pan '{pan}': one of {', '.join(pans)}")
    kinds = tuple(part.strip() for part in wraps.split(",") if part.strip())
    return Space(**read, wraps=kinds, pans=pans[pan], hold_wrap=hold_wrap)


def way_of(said: str) -> Way:
    """Return the base method from "pit=121 °C, wrap=foil, pan=yes"; what is not said is usual.

    Raises JobError for what is not written so, PlanError for what cannot be.
    """
    words = (*_NAMES, "wrap", "pan")
    read: dict[str, Any] = {}
    for part in said.split(",") if said.strip() else ():
        key, equals, value = (bit.strip() for bit in part.partition("="))
        if not equals or key not in words:
            raise JobError(
                f"--base '{part.strip()}': write OPTION=VALUE, one of {', '.join(words)}"
            )
        if key == "pan":
            if value not in ("yes", "no"):
                raise JobError(f"--base pan='{value}': yes or no")
            read["pan"] = value == "yes"
        elif key == "wrap":
            read["wrap"] = value
        else:
            try:
                read[_NAMES[key]] = _read(key, value)
            except QuantityError as error:
                raise JobError(f"--base {key}: {error}") from error
    return Way(**read)


def measures_of(worthwhile: str) -> tuple[Measure, ...]:
    """Return yield and cook time with the differences that matter, "2 points,1 h"."""
    parts = [part.strip() for part in worthwhile.split(",")]
    if len(parts) != 2:
        raise JobError(f"--worthwhile '{worthwhile}': write two, such as '2 points,1 h'")
    return (measure_of("yield", parts[0]), measure_of("cook time", parts[1]))


def key_of(plan: Sweep) -> Key:
    """Return the key of everything that a sweep's numbers rest on, the model included."""
    return simulation_key(
        "sweep",
        {
            "piece": plan.piece,
            "protocols": [protocol.model_dump(mode="json") for protocol in plan.protocols],
            "conditions": plan.conditions,
            "members": plan.members,
            "whole": plan.whole,
            "seed": plan.seed,
            "constants": plan.constants,
        },
    )


def _save(found: Swept) -> dict[str, NDArray[Any]]:
    """Copy the record's arrays; only what is done counts when they are read again."""
    # Other threads go on filling: what is marked done is copied first, and was filled before.
    done = found.done.copy()
    return {name: array.copy() for name, array in found.arrays().items()} | {"done": done}


def _load(found: Swept, came: Mapping[str, NDArray[Any]]) -> None:
    """Fill the record from arrays that fit it."""
    arrays = found.arrays()
    if any(name not in came or came[name].shape != a.shape for name, a in arrays.items()):
        return
    for name, array in arrays.items():
        array[...] = came[name]
