"""Methods as a handful of factors, a design that fills their ranges, and the limits they must keep.

A method is a pit temperature, with or without a water pan; a wrap put on at a core temperature, or
none; a core temperature at which the piece comes off; and a hold in a cabinet.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fairsmoke.cooking.sweep import Swept, failed
from fairsmoke.messages.message import N_, Listed, Message, Words
from fairsmoke.physics.limits import COME_UP, LEAST_SALMONELLA_LOG, SAFETY_LIMITS, least_c
from fairsmoke.physics.ranges import BoolArray, FloatArray
from fairsmoke.planning.errors import PlanError
from fairsmoke.quantity.values import Duration, Number, Temperature
from fairsmoke.trial.protocol import (
    Cover,
    EndCondition,
    Humidity,
    Place,
    Protocol,
    Stage,
    Wrap,
)

HOUR_S = 3600.0
BOAT = "boat"
WRAPS = (*(str(cover) for cover in Cover), BOAT)

LEAST_LOG = LEAST_SALMONELLA_LOG
HOLD_RULE = SAFETY_LIMITS["hold 57 °C"]
LOWEST_HOLD_C = least_c(HOLD_RULE)
KEPT_IN = 0.95
"""The share of draws that must keep a limit: ours, no source."""


@dataclass(frozen=True)
class MethodSettings:
    """One method: temperatures in °C, the hold in s; `wrap` a word of WRAPS.

    `wrap_at_c` plays no part in a bare cook. Raises PlanError for what cannot be.
    """

    pit_c: float = 121.0
    wrap: str = "paper"
    wrap_at_c: float = 71.0
    pan: bool = False
    until_c: float = 93.0
    hold_c: float = 66.0
    hold_s: float = 8 * HOUR_S

    def __post_init__(self) -> None:
        if self.wrap not in WRAPS:
            raise no_wrap(self.wrap)
        if self.wrap != Cover.BARE and not self.wrap_at_c < self.until_c:
            message = N_(
                "wrapped at %(wrap)s and off at %(off)s: wrap at a lower core temperature than "
                "that at which the piece comes off",
                wrap=Temperature(self.wrap_at_c),
                off=Temperature(self.until_c),
            )
            raise PlanError(message, field="wrap_at")
        if self.pit_c <= self.until_c:
            message = N_(
                "a pit of %(pit)s never brings a core to %(core)s; give a hotter pit or a lower "
                "core temperature",
                pit=Temperature(self.pit_c),
                core=Temperature(self.until_c),
            )
            raise PlanError(message, field="pit")
        if self.hold_c < LOWEST_HOLD_C:
            message = N_(
                "a hold at %(hold)s: below the %(least)s of %(source)s; your local code may ask "
                "for more",
                hold=Temperature(self.hold_c),
                least=Temperature(LOWEST_HOLD_C),
                source=HOLD_RULE.source.text,
            )
            raise PlanError(message, field="hold")
        if not 0.0 < self.hold_s <= 72 * HOUR_S:
            message = N_("the hold must be longer than nothing and at most 72 h")
            raise PlanError(message, field="hold_for")

    def protocol(self, hold_wrap: str, longest_s: float) -> Protocol:
        """Return the stages; each in the cooker takes `longest_s` at most."""
        humidity = Humidity.WATER_PAN if self.pan else Humidity.NONE
        bare = self.wrap == Cover.BARE
        steps = [("smoke", str(Cover.BARE), self.until_c if bare else self.wrap_at_c)]
        if not bare:
            steps.append(("wrapped", self.wrap, self.until_c))
        stages = [
            Stage(
                id=name,
                name=name,
                surround_c=self.pit_c,
                humidity=humidity,
                wrap=_wrap(wrap),
                ends=(EndCondition(core_c=core_c), EndCondition(elapsed_s=longest_s)),
            )
            for name, wrap, core_c in steps
        ]
        held = Stage(
            id="hold",
            name="hold",
            place=Place.CABINET,
            surround_c=self.hold_c,
            wrap=_wrap(hold_wrap),
            ends=(EndCondition(elapsed_s=self.hold_s),),
        )
        return Protocol(stages=(*stages, held))


def no_wrap(word: str) -> PlanError:
    """Return the error for a wrap that there is not."""
    message = N_(
        "there is no wrap '%(wrap)s'; one of %(known)s", wrap=word, known=Listed(list(WRAPS))
    )
    return PlanError(message, field="wrap")


def _wrap(word: str) -> Wrap:
    if word == BOAT:
        return Wrap(above=Cover.BARE, below=Cover.FOIL)
    return Wrap(above=Cover(word), below=Cover(word))


@dataclass(frozen=True)
class FactorRange:
    """Lowest and highest value of a factor. Raises PlanError when they are not in that order."""

    low: float
    high: float

    def __post_init__(self) -> None:
        if not (np.isfinite(self.low) and np.isfinite(self.high) and self.low <= self.high):
            message = N_(
                "a range from %(low)s to %(high)s: give the lower end first",
                low=f"{self.low:g}",
                high=f"{self.high:g}",
            )
            raise PlanError(message)

    def at(self, share: float) -> float:
        """Return the value so far up the range, from 0 to 1."""
        return self.low + share * (self.high - self.low)


FACTORS = ("pit_c", "wrap_at_c", "until_c", "hold_c", "hold_s")
"""The factors with a range; the others, wrap and pan, are kinds."""


@dataclass(frozen=True)
class DesignSpace:
    """The range of each factor. The usual ends are common practice, no source.

    `hold_wrap` is on in every hold, so that holds are alike. Raises PlanError for ranges whose
    ends are no methods.
    """

    pit_c: FactorRange = FactorRange(107.0, 149.0)
    wrap_at_c: FactorRange = FactorRange(60.0, 80.0)
    until_c: FactorRange = FactorRange(86.0, 97.0)
    hold_c: FactorRange = FactorRange(60.0, 74.0)
    hold_s: FactorRange = FactorRange(HOUR_S, 16 * HOUR_S)
    wraps: tuple[str, ...] = ("bare", "paper", "foil", BOAT)
    pans: tuple[bool, ...] = (False, True)
    hold_wrap: str = "foil"
    longest_s: float = 30 * HOUR_S

    def __post_init__(self) -> None:
        for name, kinds in (("wrap", self.wraps), ("pan", self.pans)):
            if not kinds or len(set(kinds)) != len(kinds):
                message = N_("kinds of %(what)s: give at least one, and each once", what=name)
                raise PlanError(message)
        if self.hold_wrap not in WRAPS:
            raise no_wrap(self.hold_wrap)
        if not self.longest_s > 0.0:
            raise PlanError(N_("the longest time of a stage must be above nothing"))
        for wrap, pan in itertools.product(self.wraps, self.pans):
            # The hardest corner: coolest pit, latest wrap, earliest end, coolest hold.
            coolest = (self.until_c.low, self.hold_c.low)
            MethodSettings(self.pit_c.low, wrap, self.wrap_at_c.high, pan, *coolest)
            MethodSettings(self.pit_c.low, wrap, self.wrap_at_c.low, pan, self.until_c.high)
            MethodSettings(hold_s=self.hold_s.low)
            MethodSettings(hold_s=self.hold_s.high)

    @property
    def kinds(self) -> tuple[tuple[str, bool], ...]:
        """Every kind of wrap with and without pan."""
        return tuple(itertools.product(self.wraps, self.pans))

    def fill(self, count: int, seed: int) -> tuple[MethodSettings, ...]:
        """Return at least `count` methods that fill the space.

        The factors with a range take the points of a scrambled Sobol sequence, every point with
        every kind, so that kinds are compared on the same points. Raises PlanError for a count out
        of range.
        """
        if not 2 <= count <= 20_000:
            raise PlanError(
                N_("%(count)s methods: give 2 to 20,000, such as 200", count=count), field="methods"
            )
        # Only here: it takes as long to load as all the rest, and a page needs only the ranges.
        from scipy.stats import qmc

        kinds = self.kinds
        each = -(-count // len(kinds))
        sequence = qmc.Sobol(len(FACTORS), rng=np.random.default_rng([seed, 77]))
        points = sequence.random_base2(max(1, (each - 1).bit_length()))[:each]
        return tuple(_placed(self, wrap, pan, point) for point in points for wrap, pan in kinds)

    def protocol(self, method: MethodSettings) -> Protocol:
        """Return the protocol of a method."""
        return method.protocol(self.hold_wrap, self.longest_s)


def _placed(space: DesignSpace, wrap: str, pan: bool, point: FloatArray) -> MethodSettings:
    turned = {k: getattr(space, k).at(float(x)) for k, x in zip(FACTORS, point, strict=True)}
    return MethodSettings(wrap=wrap, pan=pan, **turned)


@dataclass(frozen=True)
class Objective:
    """What is wanted: a name of the sweep's VALUES, whether more of it is good, and a step.

    Less than a step of difference does not put a method on the front: common practice, no source.
    """

    name: str
    more: bool
    step: float


GOALS: dict[str, Objective] = {
    "yield": Objective("yield", True, 0.02),
    "tenderness": Objective("collagen_core", True, 0.05),
    "crust": Objective("crust_kg_m2", True, 0.1),
    "cap": Objective("cap_rendered", True, 0.05),
    "time": Objective("end_s", False, HOUR_S),
}
"""By the words of a command. Tenderness is told by the collagen dissolved in the core; more than
enough of it is mushy, which the model does not know. Time is to the end of the hold."""
USUAL_GOALS = ("yield", "tenderness", "crust", "time")


def goal_draws(found: Swept, goals: Sequence[str]) -> FloatArray:
    """Return (methods × draws × goals), larger is better; goals are words of GOALS."""
    wanted = [GOALS[goal] for goal in goals]
    return np.stack([(1 if g.more else -1) * found.value(g.name) for g in wanted], axis=2)


@dataclass(frozen=True, eq=False)
class LimitKept:
    """A limit: what it asks, and the share of draws in which each method keeps it."""

    key: str
    rule: Message
    source: Words
    kept: FloatArray


def limits_of(found: Swept) -> tuple[LimitKept, ...]:
    """Return how surely each method keeps the limits. Nothing that keeps them is thereby safe.

    A draw in which a cook never came to its end keeps none of them.
    """

    def share(kept: BoolArray) -> FloatArray:
        return np.asarray(np.mean(kept, axis=1))

    come_up = found.value("come_up_s")
    assert COME_UP.within_s is not None
    with np.errstate(invalid="ignore"):
        return (
            LimitKept(
                "lethality",
                N_(
                    "at least %(log)s log10 of Salmonella in the coldest lean part",
                    log=Number(LEAST_LOG),
                ),
                N_("USDA FSIS cooking guideline for beef"),
                share(found.value("log_salmonella") >= LEAST_LOG),
            ),
            LimitKept(
                "come-up",
                N_(
                    "the core from %(low)s to %(high)s within %(long)s",
                    low=Temperature(10.0),
                    high=Temperature(54.0),
                    long=Duration(COME_UP.within_s),
                ),
                COME_UP.source.text,
                share(come_up <= COME_UP.within_s),
            ),
            LimitKept(
                "reached",
                N_("comes off at its core temperature and not by the longest time"),
                N_("ours: otherwise it is another method than it says"),
                share(found.reached > 0),
            ),
            LimitKept(
                "ended",
                N_("comes to the end of its protocol"),
                N_("ours"),
                1.0 - failed(found),
            ),
        )


def allowed_by(limits: Sequence[LimitKept], kept_in: float = KEPT_IN) -> BoolArray:
    """Return which methods keep every limit in at least that share of draws."""
    return np.asarray(np.all([limit.kept >= kept_in for limit in limits], axis=0))
