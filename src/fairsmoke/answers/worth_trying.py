"""Which method is worth trying: cooks a whole design of methods, and works out what to choose from.

Shows how far it is, can be stopped, and goes on where it stopped.
"""

import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fairsmoke.answers.resume import Progress, go_on, simulation_key
from fairsmoke.answers.simulation_quick import quick_plan
from fairsmoke.answers.store import ResultKey, Store, program_digest
from fairsmoke.answers.tasks import Context
from fairsmoke.answers.worth_trying_options import measures_of, settings_of, space_of
from fairsmoke.cooking.sweep import Sweep, Swept, check_sweep, run_sweep
from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import N_, Words
from fairsmoke.planning.methods.choice import MethodsAnswer, MethodSweep, answer_of, check_goals
from fairsmoke.planning.methods.contrasts import contrasts_of
from fairsmoke.planning.methods.space import FACTORS, USUAL_GOALS, DesignSpace, MethodSettings
from fairsmoke.planning.size.cost import Prices
from fairsmoke.planning.size.how_many import Means
from fairsmoke.planning.size.repeats import Block
from fairsmoke.setting_up.method import Method
from fairsmoke.telling.simulator_words import CUT_NAMES

QUESTION = "worth-trying"


@dataclass(frozen=True)
class WorthTrying:
    """What is asked. Quantities are texts with their unit, as the command's options are.

    ``piece``, ``kitchen`` and ``ranges`` ("107 °C to 149 °C", "" the usual) by option; ``base`` the
    method from which one factor is changed; ``goals`` and ``wraps`` with commas; ``most`` pairs.
    """

    piece: dict[str, str]
    ranges: dict[str, str] = field(default_factory=dict)
    wraps: str = "bare,paper,foil,boat"
    pan: str = "both"
    hold_wrap: str = "foil"
    base: str = ""
    goals: str = ",".join(USUAL_GOALS)
    worthwhile: str = "2 points,1 h"
    most: int = 6
    halves: bool = False
    price_piece: float | None = None
    price_cook: float | None = None
    currency: str = ""
    sure: float = 0.9
    kitchen: dict[str, str] = field(default_factory=dict)
    methods: int = 200
    draws: int = 40
    whole_draws: int = 4
    seed: int = 1

    @property
    def key(self) -> ResultKey:
        """The name under which the answer is kept."""
        rooms = ("cooking", "physics", "trial", "judging", "planning", "telling", "answers")
        return ResultKey.of(QUESTION, asdict(self), program_digest(*rooms))

    @property
    def wanted(self) -> tuple[str, ...]:
        """The goals by name."""
        return tuple(part.strip() for part in self.goals.split(",") if part.strip())

    @property
    def space(self) -> DesignSpace:
        """The space of methods. Raises JobError or PlanError."""
        return space_of(self.ranges, wraps=self.wraps, pan=self.pan, hold_wrap=self.hold_wrap)

    @property
    def means(self) -> Means:
        """What the next trial can be made of. Raises PlanError."""
        block = Block(from_one="parent" if self.halves else "")
        prices = Prices(self.price_piece, self.price_cook, None, self.currency)
        return Means(block=block, most=self.most, prices=prices)


def missing(asked: WorthTrying) -> Words | None:
    """Return what has to be mended before it can be worked out; cheap enough for a page.

    One method of each kind is looked at; None where nothing is seen to be wrong.
    """
    try:
        check_goals(asked.wanted, asked.sure)
        measures_of(asked.worthwhile)
        space, base, _ = asked.space, settings_of(asked.base), asked.means
        contrasts_of(space, base)
        middle = {factor: getattr(space, factor).at(0.5) for factor in FACTORS}
        kinds = [MethodSettings(wrap=wrap, pan=pan, **middle) for wrap, pan in space.kinds]
        check_sweep(_sweep(asked, space, (base, *kinds)))
    except InputError as error:
        return error.message
    return None


def _sweep(asked: WorthTrying, space: DesignSpace, methods: tuple[MethodSettings, ...]) -> Sweep:
    piece = quick_plan(asked.piece, Method(), kitchen=asked.kitchen).plan.pieces[0]
    protocols = tuple(space.protocol(method) for method in methods)
    return Sweep(
        piece.piece, protocols, piece.conditions, asked.draws, asked.whole_draws, asked.seed
    )


def sweep_of(asked: WorthTrying) -> MethodSweep:
    """Return what is to be cooked.

    Raises JobError that names the option that is wrong, or what planning and cooking refuse.
    """
    check_goals(asked.wanted, asked.sure)
    measures_of(asked.worthwhile)
    space, base = asked.space, settings_of(asked.base)
    methods = space.fill(asked.methods, asked.seed)
    contrasts = contrasts_of(space, base)
    ends = [end for one in contrasts for end in (one.before, one.after)]
    # A method of the design may itself be an end of a contrast; it is cooked once.
    every = tuple(dict.fromkeys([*methods, base, *ends]))
    number = {method: at for at, method in enumerate(every)}
    sweep = _sweep(asked, space, every)
    check_sweep(sweep)
    return MethodSweep(
        title=N_("%(cut)s: which method is worth trying", cut=CUT_NAMES[asked.piece["cut"]]),
        sweep=sweep,
        space=space,
        methods=tuple(dict.fromkeys(methods)),
        base=base,
        base_at=number[base],
        contrasts=contrasts,
        places=tuple((number[one.before], number[one.after]) for one in contrasts),
    )


def cook_all(
    asked: MethodSweep,
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


def compute(
    asked: WorthTrying,
    folder: Path | Store | None = None,
    *,
    workers: int | None = None,
    progress: Progress | None = None,
    afresh: bool = False,
) -> MethodsAnswer:
    """Cook the methods and return the answer.

    Raises KeyboardInterrupt with how many methods are done, and of how many, when it was stopped;
    what `sweep_of` raises for what cannot be.
    """
    sweep = sweep_of(asked)
    found = cook_all(sweep, folder, workers=workers, progress=progress, afresh=afresh)
    if not found.complete:
        raise KeyboardInterrupt(int(found.done.sum()), found.done.size)
    means = asked.means
    return answer_of(sweep, found, measures_of(asked.worthwhile), means, asked.wanted, asked.sure)


def worth_trying_task(content: dict[str, Any], at: Context, progress: Progress) -> dict[str, Any]:
    """Work the answer out as a job and keep it: its numbers, its document, every method.

    Each method is kept as it is done: the same goes on where it was stopped, and other goals,
    prices or worthwhile differences need no cook anew.
    """
    from fairsmoke.telling.document import to_json
    from fairsmoke.telling.worth_trying import (
        all_methods_section,
        worth_trying_json,
        worth_trying_sections,
    )

    asked = WorthTrying(**content)
    entry = at.store.ask(asked.key, content)
    if entry.get("document") is None:
        # A core is left to the app, where there is more than one.
        workers = max(1, (os.cpu_count() or 2) - 1)
        found = compute(asked, at.store, workers=workers, progress=progress)
        entry.put("numbers", worth_trying_json(found))
        entry.put("methods", to_json([all_methods_section(found)]))
        entry.put("document", to_json(worth_trying_sections(found)))
    return {"key": asked.key.digest}


def key_of(plan: Sweep) -> ResultKey:
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
