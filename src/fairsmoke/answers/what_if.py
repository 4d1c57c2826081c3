"""A what-if as an app asks it: run in the background, kept by a digest of all that it rests on."""

import hashlib
import json
import os
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fairsmoke.answers.store import program_digest
from fairsmoke.answers.tasks import Context
from fairsmoke.notebook import Notebook
from fairsmoke.quantity import Units, parse_temperature

if TYPE_CHECKING:
    from fairsmoke.cooking import SideBySide
    from fairsmoke.setting_up.method import Method

KEPT_FOLDERS = 60
DRAWS = (40, 100, 400)

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class WhatIf:
    """What is asked. Quantities are texts with their unit; "" is left out.

    Of a piece by hand (``piece``: cut, mass, length … as in a file) by ``methods``, fields of
    ``Method`` each, the first the base; or of a ``trial``: its own arms on ``pieces`` of it, in the
    air as ``measured`` or as set; ``cuts`` says which cut of the model a piece is most like.
    """

    units: dict[str, str]
    piece: dict[str, str] = field(default_factory=dict)
    methods: list[dict[str, str]] = field(default_factory=list)
    kitchen: dict[str, str] = field(default_factory=dict)
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
    def key(self) -> str:
        """The name under which it is kept: a digest of itself and of the model."""
        content = json.dumps(asdict(self), sort_keys=True, ensure_ascii=False)
        own = program_digest("cooking", "physics", "telling", "answers")
        return hashlib.sha256(f"{own}\0{content}".encode()).hexdigest()[:24]


def plan_by_hand(asked: WhatIf) -> "SideBySide":
    """Return the plan of a piece by hand; raises JobError that names what is wrong."""
    from fairsmoke.answers.simulation_quick import quick_plan

    base, *rivals = (_method(one) for one in asked.methods)
    kitchen: dict[str, Any] = {k: v for k, v in asked.kitchen.items() if k != "air"}
    if asked.kitchen.get("air"):
        kitchen["cooker"] = {"air": asked.kitchen["air"]}
    return quick_plan(
        asked.piece,
        base,
        rivals,
        kitchen={**kitchen, "tender": asked.tender},
        members=asked.draws,
        seed=asked.seed,
        whole_body=asked.whole_body,
    )


def _method(said: Mapping[str, str]) -> "Method":
    from fairsmoke.setting_up.method import Method

    return Method(**said)


def run_what_if(
    content: dict[str, Any], notebook: Path, folder: Path, progress: Progress
) -> dict[str, Any]:
    """Run a what-if and keep what came of it; raises KeyboardInterrupt when it was stopped.

    The single cooks are kept as they are done, so that the same goes on where it was stopped.
    """
    from fairsmoke.answers.simulation import simulate_side_by_side
    from fairsmoke.telling.simulated import simulated_json
    from fairsmoke.telling.simulated_chart import write_chart
    from fairsmoke.telling.simulated_data import summary_of
    from fairsmoke.telling.simulated_page import cautions_of, simulated_page

    asked = WhatIf(**content)
    place = folder / "what-ifs" / asked.key
    if (place / "page.json").is_file():
        return {"folder": str(place)}
    plan = plan_by_hand(asked) if not asked.trial else _plan_of_trial(asked, notebook)
    # A core is left to the app, where there is more than one.
    workers = max(1, (os.cpu_count() or 2) - 1)
    found = simulate_side_by_side(plan, folder / "simulations", workers=workers, progress=progress)
    if not found.complete:
        raise KeyboardInterrupt
    told, units = summary_of(found), Units(**asked.units)  # type: ignore[arg-type]
    page = {**simulated_page(told, units), "cautions": cautions_of(told)}
    place.mkdir(parents=True, exist_ok=True)
    write_chart(told, place / "picture-chart.svg", units)
    write_chart(told, place / "picture-chart.png", units)
    write_json(place / "numbers.json", simulated_json(told))
    write_json(place / "page.json", page)
    return {"folder": str(place)}


def note_asked(asked: WhatIf, folder: Path) -> Path:
    """Keep what is asked, so that its page knows it however late; return its folder."""
    place = folder / "what-ifs" / asked.key
    place.mkdir(parents=True, exist_ok=True)
    if not (place / "asked.json").is_file():
        write_json(place / "asked.json", asdict(asked))
    return place


def _plan_of_trial(asked: WhatIf, notebook: Path) -> "SideBySide":
    from fairsmoke.answers.simulation_trial import Choices, plan_of_trial

    record = Notebook.open(notebook).load_trial(asked.trial, lazy=True)
    choices = Choices(
        measured=asked.measured,
        cuts=asked.cuts,
        pieces=asked.pieces,
        room_c=parse_temperature(asked.kitchen.get("room") or "20 °C"),
        tender_c=parse_temperature(asked.tender),
        members=asked.draws,
        seed=asked.seed,
        whole_body=asked.whole_body,
    )
    return plan_of_trial(record, choices)


def write_json(path: Path, content: Any) -> None:
    """Write plain data whole or not at all."""
    with tempfile.NamedTemporaryFile("w", dir=path.parent, delete=False, encoding="utf-8") as part:
        json.dump(content, part)
    Path(part.name).replace(path)


def what_if_task(content: dict[str, Any], at: Context, progress: Progress) -> dict[str, Any]:
    """Run a what-if as a job."""
    return run_what_if(content, at.notebook, at.folder, progress)
