"""The kinds of record that a notebook keeps, whose they are, and what they point at."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Literal

from fairsmoke.messages.message import N_, Words
from fairsmoke.notebook.errors import NotebookError
from fairsmoke.trial.base import Record
from fairsmoke.trial.cook import Cook, Cooker, Event, Piece
from fairsmoke.trial.figure import Exclusion, Figure
from fairsmoke.trial.kitchen import Kitchen, KnownLayout
from fairsmoke.trial.nouns import named, noun
from fairsmoke.trial.plan import Plan
from fairsmoke.trial.probe import Placement, Probe
from fairsmoke.trial.question import Trial
from fairsmoke.trial.registration import Registration
from fairsmoke.trial.source import Source
from fairsmoke.trial.tasting import Ballot, Sample, Taster
from fairsmoke.trial.weighing import PartEstimate, Scale, Weighing


@dataclass(frozen=True, eq=False)
class Kind:
    """One kind of record.

    ``name``       the name of its table, and of the kind everywhere
    ``plural``     the field of ``TrialRecord`` and the key in files that hold several
    ``owner``      whose handles they are: the kitchen's, or one trial's
    ``only_one``   its owner has at most one, and its handle is the name of the kind
    ``points_at``  path of each field that holds the handle of another record: that record's kind
    ``inside``     path of each field that holds the handle of a part of the trial: which part
    """

    name: str
    model: type[Record]
    plural: str
    owner: Literal["kitchen", "trial"]
    only_one: bool = False
    points_at: Mapping[str, str] = field(default_factory=dict)
    inside: Mapping[str, Literal["arms", "measures"]] = field(default_factory=dict)

    @property
    def of_trial(self) -> bool:
        """Whether its records belong to one trial."""
        return self.owner == "trial"

    def handle_of(self, record: Record) -> str:
        """Return the handle of a record of this kind."""
        return self.name if self.only_one else str(getattr(record, "id"))  # noqa: B009

    def key(self, trial_id: str, handle: str) -> "Key":
        """Return the key of a record; a trial belongs to itself, a cooker to no trial."""
        if self.of_trial:
            return Key(self.name, trial_id, handle)
        return Key(self.name, handle if self.name == "trial" else "", handle)


@dataclass(frozen=True, order=True)
class Key:
    """Which record: its kind, its trial ("" for the kitchen's own) and its handle."""

    kind: str
    trial: str
    handle: str

    @property
    def words(self) -> Words:
        """Which record it is, for a message."""
        return noun(self.kind) if KINDS[self.kind].only_one else named(self.kind, self.handle)

    def __str__(self) -> str:
        return str(self.words)


_KINDS = (
    Kind("kitchen", Kitchen, "kitchen", "kitchen", only_one=True),
    Kind("cooker", Cooker, "cookers", "kitchen"),
    Kind("scale", Scale, "scales", "kitchen"),
    Kind("probe", Probe, "probes", "kitchen"),
    Kind("taster", Taster, "tasters", "kitchen"),
    Kind("known_layout", KnownLayout, "layouts", "kitchen"),
    Kind("trial", Trial, "trials", "kitchen"),
    Kind("cook", Cook, "cooks", "trial", points_at={"cookers": "cooker"}),
    Kind(
        "piece",
        Piece,
        "pieces",
        "trial",
        points_at={"cook": "cook", "half_of": "piece", "spot.cooker": "cooker"},
        inside={"arm": "arms"},
    ),
    Kind(
        "placement",
        Placement,
        "placements",
        "trial",
        points_at={"cook": "cook", "probe": "probe", "piece": "piece", "spot.cooker": "cooker"},
    ),
    Kind(
        "event",
        Event,
        "events",
        "trial",
        points_at={
            "cook": "cook",
            "pieces": "piece",
            "cooker": "cooker",
            "probe": "probe",
            "to.cooker": "cooker",
        },
    ),
    Kind(
        "weighing",
        Weighing,
        "weighings",
        "trial",
        points_at={"cook": "cook", "piece": "piece", "scale": "scale"},
    ),
    Kind("estimate", PartEstimate, "estimates", "trial", points_at={"piece": "piece"}),
    Kind("sample", Sample, "samples", "trial", points_at={"piece": "piece"}),
    Kind(
        "ballot",
        Ballot,
        "ballots",
        "trial",
        points_at={
            "taster": "taster",
            "cook": "cook",
            "presented": "sample",
            "scores.sample": "sample",
            "chosen": "sample",
        },
        inside={"measure": "measures"},
    ),
    Kind(
        "figure",
        Figure,
        "figures",
        "trial",
        points_at={"piece": "piece"},
        inside={"measure": "measures"},
    ),
    Kind(
        "exclusion",
        Exclusion,
        "exclusions",
        "trial",
        points_at={"piece": "piece", "probe": "probe", "cook": "cook"},
        inside={"measure": "measures"},
    ),
    Kind("source", Source, "sources", "trial", points_at={"cook": "cook"}),
    Kind(
        "plan",
        Plan,
        "plan",
        "trial",
        only_one=True,
        points_at={
            "at_hand.spots.cooker": "cooker",
            "layout.slots.spot.cooker": "cooker",
            "layout.slots.then.cooker": "cooker",
        },
        inside={"at_hand.pieces.arm": "arms", "layout.slots.arm": "arms"},
    ),
    Kind("registration", Registration, "registration", "trial", only_one=True),
)

KINDS: Mapping[str, Kind] = MappingProxyType({kind.name: kind for kind in _KINDS})
"""Every kind by its name, in an order in which each stands behind what it points at."""

KITCHEN_KINDS = tuple(kind for kind in _KINDS if not kind.of_trial and kind.name != "trial")
TRIAL_KINDS = tuple(kind for kind in _KINDS if kind.of_trial)

_BY_MODEL = {kind.model: kind for kind in _KINDS}


def kind_of(what: str | Record | type[Record]) -> Kind:
    """Return the kind of that name, of that record, or of records of that class.

    Raises NotebookError when a notebook keeps no such thing.
    """
    if isinstance(what, str):
        found = KINDS.get(what)
    else:
        found = _BY_MODEL.get(what if isinstance(what, type) else type(what))
    if found is None:
        named = what if isinstance(what, str) else getattr(what, "__name__", type(what).__name__)
        raise NotebookError(
            N_(
                "a notebook keeps no '%(named)s'; it keeps: %(kinds)s",
                named=named,
                kinds=", ".join(KINDS),
            )
        )
    return found


def values_at(thing: Any, path: str) -> Iterator[str]:
    """Yield every handle that stands at a path such as ``scores.sample`` of a record."""
    if thing is None:
        return
    if isinstance(thing, tuple):
        for item in thing:
            yield from values_at(item, path)
    elif not path:
        yield str(thing)
    else:
        first, _, rest = path.partition(".")
        yield from values_at(getattr(thing, first), rest)


def references(kind: Kind, record: Record) -> Iterator[tuple[str, str, str]]:
    """Yield (field, kind, handle) of everything that a record points at."""
    for path, target in kind.points_at.items():
        for handle in values_at(record, path):
            yield path.partition(".")[0], target, handle


def spots_of(record: Record) -> Iterator[tuple[str, str]]:
    """Yield (cooker, position) of every spot that a record names."""
    for name in ("spot", "to"):
        spot = getattr(record, name, None)
        if spot is not None:
            yield spot.cooker, spot.position
