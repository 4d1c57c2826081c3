"""Which method is worth trying, as an app asks it: run in the background, kept, gone on with."""

import hashlib
import json
import os
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fairsmoke.answers.simulation_quick import quick_plan
from fairsmoke.answers.store import program_digest
from fairsmoke.answers.tasks import Context
from fairsmoke.answers.what_if import write_json
from fairsmoke.cooking.sweep import Sweep, check_sweep
from fairsmoke.messages.errors import JobError
from fairsmoke.planning.methods.space import TURNED, Way
from fairsmoke.setting_up.method import Method

if TYPE_CHECKING:
    from fairsmoke.planning.methods.choice import Asked
    from fairsmoke.planning.methods.space import Space
    from fairsmoke.planning.size.how_many import Means

# What judges and draws is loaded where it is used: an app that only shows a form starts sooner.

FOLDER = "worth-trying"
FEWEST, MOST = 8, 1000
"""Methods that may be asked for: more would keep the machine for an hour."""
MOST_PAIRS = 6

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class WorthAsked:
    """What is asked. Quantities are texts with their unit, as the command's options are.

    ``piece`` and ``kitchen`` by option; ``spans`` "107 °C to 149 °C" by option, "" the usual;
    ``base`` the method that knobs are turned from, by the words of ``way_of``; ``prices`` of a
    piece and of a cook, "" for none.
    """

    piece: dict[str, str]
    spans: dict[str, str]
    wraps: list[str]
    base: dict[str, str]
    goals: list[str]
    worthwhile: list[str]
    pan: str = "both"
    hold_wrap: str = "foil"
    halves: bool = False
    prices: list[str] = field(default_factory=lambda: ["", ""])
    currency: str = ""
    kitchen: dict[str, str] = field(default_factory=dict)
    methods: int = 200
    draws: int = 40
    whole: int = 4
    seed: int = 1

    @property
    def key(self) -> str:
        """The name under which it is kept: a digest of itself and of the program."""
        content = json.dumps(asdict(self), sort_keys=True, ensure_ascii=False)
        rooms = ("cooking", "physics", "judging", "planning", "telling", "answers")
        return hashlib.sha256(f"{program_digest(*rooms)}\0{content}".encode()).hexdigest()[:24]


def check_worth(asked: WorthAsked) -> None:
    """Refuse, before anybody waits, what can be seen to be wrong; as one method of each kind.

    Raises what ``ask_for`` raises, JobError for prices and a number of methods out of range.
    """
    from fairsmoke.answers.worth_trying import measures_of
    from fairsmoke.planning.methods.choice import check_goals
    from fairsmoke.planning.methods.contrasts import turns_of

    check_goals(asked.goals)
    measures_of(",".join(asked.worthwhile))
    _means(asked)
    if not FEWEST <= asked.methods <= MOST:
        raise JobError(f"{asked.methods} methods: give {FEWEST} to {MOST}, such as 200")
    space = _space(asked)
    base = _base(asked)
    turns_of(space, base)
    piece = quick_plan(asked.piece, Method(), kitchen=asked.kitchen).pieces[0]
    middle = {knob: getattr(space, knob).at(0.5) for knob in TURNED}
    ways = [base, *(Way(wrap=wrap, pan=pan, **middle) for wrap, pan in space.kinds)]
    protocols = tuple(space.protocol(way) for way in ways)
    check_sweep(Sweep(piece.piece, protocols, piece.conditions, asked.draws, asked.whole))


def run_worth(content: dict[str, Any], folder: Path, progress: Progress) -> dict[str, Any]:
    """Cook the methods and keep what came of it; raises KeyboardInterrupt when it was stopped.

    Each method is kept as it is done: the same goes on where it was stopped, and other goals,
    prices or worthwhile differences need no cook anew.
    """
    from fairsmoke.answers.worth_trying import cook_all, measures_of
    from fairsmoke.planning.methods.choice import tell_of
    from fairsmoke.telling.worth_trying import tried_json
    from fairsmoke.telling.worth_trying_page import worth_page

    asked = WorthAsked(**content)
    place = folder / FOLDER / asked.key
    if (place / "page.json").is_file():
        return {"folder": str(place)}
    cooked = _asked(asked)
    # A core is left to the app, where there is more than one.
    workers = max(1, (os.cpu_count() or 2) - 1)
    found = cook_all(cooked, folder / "simulations", workers=workers, progress=progress)
    if not found.complete:
        raise KeyboardInterrupt
    measures = measures_of(",".join(asked.worthwhile))
    told = tell_of(cooked, found, measures, _means(asked), asked.goals)
    place.mkdir(parents=True, exist_ok=True)
    write_json(place / "numbers.json", tried_json(told))
    write_json(place / "page.json", worth_page(told))
    return {"folder": str(place)}


def _asked(asked: WorthAsked) -> "Asked":
    from fairsmoke.answers.worth_trying import ask_for

    return ask_for(
        asked.piece,
        _space(asked),
        _base(asked),
        kitchen=asked.kitchen,
        methods=asked.methods,
        members=asked.draws,
        whole=asked.whole,
        seed=asked.seed,
    )


def _space(asked: WorthAsked) -> "Space":
    from fairsmoke.answers.worth_trying import space_of

    return space_of(
        asked.spans, wraps=",".join(asked.wraps), pan=asked.pan, hold_wrap=asked.hold_wrap
    )


def _base(asked: WorthAsked) -> Way:
    from fairsmoke.answers.worth_trying import way_of

    return way_of(",".join(f"{name}={said}" for name, said in asked.base.items() if said))


def _means(asked: WorthAsked) -> "Means":
    from fairsmoke.planning.size.cost import Prices
    from fairsmoke.planning.size.how_many import Means
    from fairsmoke.planning.size.repeats import Block

    block = Block(from_one="parent" if asked.halves else "")
    piece, cook = (_price(said) for said in asked.prices)
    return Means(block=block, most=MOST_PAIRS, prices=Prices(piece, cook, None, asked.currency))


def _price(said: str) -> float | None:
    if not said.strip():
        return None
    try:
        found = float(said.replace(",", "."))
    except ValueError:
        raise JobError(f"price '{said}': write a number, such as 60") from None
    if not 0.0 <= found < 1e9:
        raise JobError(f"price '{said}': write a number that is not below 0")
    return found


def worth_trying_task(content: dict[str, Any], at: Context, progress: Progress) -> dict[str, Any]:
    """Cook the methods as a job."""
    return run_worth(content, at.folder, progress)
