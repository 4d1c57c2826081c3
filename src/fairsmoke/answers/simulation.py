"""Simulate arms side by side: shows how far it is, can be stopped, and goes on where it stopped."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from fairsmoke.answers.resume import Progress, go_on, simulation_key
from fairsmoke.answers.store import ResultKey, Store
from fairsmoke.cooking.run import usual_control
from fairsmoke.cooking.side_by_side import SideBySide, Simulated, prepare, run_side_by_side
from fairsmoke.messages.message import Message, Words
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.planning.methods.simulated import SimulationSummary, summary_of


@dataclass(frozen=True)
class Simulation:
    """What is to be simulated, and how it is called: the arms' ``names`` by their handles.

    ``assumed`` says what was taken that nobody gave.
    """

    plan: SideBySide
    title: Words
    names: Mapping[str, Words]
    assumed: tuple[Message, ...] = ()


def compute(
    asked: Simulation,
    folder: Path | Store | None = None,
    *,
    workers: int | None = None,
    progress: Progress | None = None,
    afresh: bool = False,
) -> SimulationSummary:
    """Simulate and return what is told of it; `complete` tells whether it was stopped.

    As `simulate_side_by_side`, which says what is kept and what is raised.
    """
    found = simulate_side_by_side(
        asked.plan, folder, workers=workers, progress=progress, afresh=afresh
    )
    return summary_of(found, asked.title, asked.names, asked.assumed)


def simulate_side_by_side(
    plan: SideBySide,
    folder: Path | Store | None = None,
    *,
    workers: int | None = None,
    progress: Progress | None = None,
    afresh: bool = False,
) -> Simulated:
    """Run a plan on all cores and return what came of it; `complete` tells whether it was stopped.

    What has been run is kept in a store, by default the one in `folder`, under a digest of all
    inputs and of the model itself, every few seconds and on Ctrl-C; the same plan goes on from
    there, and one that is done comes back at once. `afresh` begins anew. Without a folder or store
    nothing is kept.
    Raises BodyError, CookerError or ProtocolError for a plan that cannot be,
    or whose cooks mostly never end.
    """
    found = prepare(plan)
    store = Store(folder) if isinstance(folder, Path) else folder
    go_on(
        found,
        None if store is None else store.ask(key_of(plan)),
        run=lambda told: run_side_by_side(found, workers=workers, told=told),
        count=lambda one: (one.done, one.cooks),
        load=_load,
        save=_save,
        progress=progress,
        afresh=afresh,
    )
    if found.complete:
        found.refuse_endless()
    return found


def key_of(plan: SideBySide) -> ResultKey:
    """Return the key of everything that the numbers of a plan rest on, the model included.

    Names, titles and the order of pieces' names do not count; handles do.
    """
    return simulation_key(
        "side-by-side",
        {
            "arms": [[arm.id, arm.protocol.model_dump(mode="json")] for arm in plan.arms],
            "pieces": [[one.id, one.piece, one.conditions] for one in plan.pieces],
            "members": plan.members,
            "seed": plan.seed,
            "whole_body": plan.whole_body,
            "constants": plan.constants,
            "control": plan.control or usual_control(plan.whole_body),
        },
    )


def _named(found: Simulated) -> Iterator[tuple[str, dict[str, FloatArray]]]:
    """Yield how each cook is called in the file, and its arrays."""
    for (arm, piece), one in found.cooked.items():
        yield f"{arm}/{piece}", one.arrays()


def _save(found: Simulated) -> dict[str, FloatArray]:
    return {f"{cook}/{name}": array for cook, own in _named(found) for name, array in own.items()}


def _load(found: Simulated, came: Mapping[str, FloatArray]) -> None:
    """Fill the record with those cooks that are wholly there."""
    for cook, own in _named(found):
        kept = {name: came.get(f"{cook}/{name}") for name in own}
        if all(one is not None and one.shape == own[name].shape for name, one in kept.items()):
            for name, array in own.items():
                array[...] = kept[name]


__all__ = ["Simulation", "compute", "key_of", "simulate_side_by_side"]
