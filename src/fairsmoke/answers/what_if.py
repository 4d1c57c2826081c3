"""What if: arms on a piece by hand, or a trial's own arms on its pieces, simulated side by side."""

import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

from fairsmoke.answers.store import ResultKey, program_digest, subject_of
from fairsmoke.answers.tasks import Context, Progress
from fairsmoke.messages.errors import InputError
from fairsmoke.messages.message import Words

if TYPE_CHECKING:
    from fairsmoke.answers.simulation import Simulation

QUESTION = "what-if"
DRAWS = (40, 100, 400)

# What simulates is loaded where it is used: an app that only shows a form starts sooner.


@dataclass(frozen=True)
class WhatIf:
    """What is asked. Quantities are texts with their unit; "" is left out.

    Of a piece by hand (``piece``: cut, mass, length … as in a file) by ``methods``, fields of
    ``Method`` each, the first the base; or of a ``trial``: its own arms on ``pieces`` of it, in the
    air as ``measured`` or as set; ``cuts`` says which cut of the model a piece is most like.
    ``state`` is that of the trial's record.
    """

    piece: dict[str, str] = field(default_factory=dict)
    methods: list[dict[str, str]] = field(default_factory=list)
    kitchen: dict[str, Any] = field(default_factory=dict)
    trial: str = ""
    state: str = ""
    pieces: list[str] = field(default_factory=list)
    cuts: dict[str, str] = field(default_factory=dict)
    measured: bool = False
    tender: str = "94 °C"
    draws: int = 100
    seed: int = 1
    whole_body: bool = True

    @property
    def key(self) -> ResultKey:
        """The name under which the answer is kept."""
        rooms = ("cooking", "physics", "trial", "planning", "telling", "answers")
        return ResultKey.of(QUESTION, asdict(self), program_digest(*rooms))


def missing(asked: WhatIf) -> Words | None:
    """Return what has to be mended of a piece by hand before it can be simulated, or None."""
    try:
        simulation_by_hand(asked)
    except InputError as error:
        return error.message
    return None


def simulation_by_hand(asked: WhatIf) -> "Simulation":
    """Return the simulation of a piece by hand; raises JobError that names what is wrong."""
    from fairsmoke.answers.simulation_quick import quick_plan
    from fairsmoke.setting_up.method import Method

    base, *rivals = (Method(**one) for one in asked.methods)
    return quick_plan(
        asked.piece,
        base,
        rivals,
        kitchen={**kitchen_of(asked.kitchen), "tender": asked.tender},
        members=asked.draws,
        seed=asked.seed,
        whole_body=asked.whole_body,
    )


def kitchen_of(said: Mapping[str, Any]) -> dict[str, Any]:
    """Return place and cooker as a simulation's file has them, from the options of a command."""
    kitchen = {name: said[name] for name in ("altitude", "room", "tender") if said.get(name)}
    cooker = {name: said[name] for name in ("air", "fuel", "preheated") if said.get(name)}
    return {**kitchen, "cooker": cooker} if cooker else kitchen


def what_if_task(content: dict[str, Any], at: Context, progress: Progress) -> dict[str, Any]:
    """Run a what-if as a job and keep its numbers and its document.

    The single cooks are kept as they are done, so that the same goes on where it was stopped.
    """
    from fairsmoke.answers.simulation import compute
    from fairsmoke.telling.document import to_json
    from fairsmoke.telling.simulated import simulated_json, simulated_sections

    asked = WhatIf(**content)
    subject = subject_of(at.notebook, asked.trial) if asked.trial else ""
    entry = at.store.ask(asked.key, content, subject=subject)
    if entry.get("document") is None:
        plan = _of_trial(asked, at) if asked.trial else simulation_by_hand(asked)
        # A core is left to the app, where there is more than one.
        workers = max(1, (os.cpu_count() or 2) - 1)
        found = compute(plan, at.store, workers=workers, progress=progress)
        if not found.complete:
            raise KeyboardInterrupt
        entry.put("numbers", simulated_json(found))
        entry.put("names", to_json([arm.name for arm in found.arms]))
        entry.put("document", to_json(simulated_sections(found)))
    return {"key": asked.key.digest}


def _of_trial(asked: WhatIf, at: Context) -> "Simulation":
    from fairsmoke.answers.simulation_trial import SimulationOptions, plan_of_trial
    from fairsmoke.quantity import parse_temperature

    record = at.book().load_trial(asked.trial, lazy=True)
    options = SimulationOptions(
        measured=asked.measured,
        cuts=asked.cuts,
        pieces=asked.pieces,
        room_c=parse_temperature(asked.kitchen.get("room") or "20 °C"),
        tender_c=parse_temperature(asked.tender),
        members=asked.draws,
        seed=asked.seed,
        whole_body=asked.whole_body,
    )
    return plan_of_trial(record, options)
