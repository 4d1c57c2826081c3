"""What the start of a day rests on, what a fire in the night buys, and what would mend the day."""

import math
from collections.abc import Iterator

from fairsmoke.messages.message import N_, InputField, Message, OnFace
from fairsmoke.physics.limits import SAFETY_LIMITS
from fairsmoke.planning.day.day_plan import DayPlan
from fairsmoke.planning.day.proposals import COOLS_S, EVEN, REHEATS_S, DayProposal
from fairsmoke.planning.day.start_effects import HOUR_S, StartEffect
from fairsmoke.planning.day.time_errors import NO_MORE
from fairsmoke.quantity.values import Duration, Instant, Number, Temperature
from fairsmoke.telling import blocks
from fairsmoke.telling.blocks import Block

_POINT_S = 300.0


def _moment(plan: DayPlan, seconds: float) -> Instant:
    return Instant(plan.at(seconds), "day time", plan.day.zone)


def variation_words(plan: DayPlan) -> Message:
    """Return how real times vary in this plan, and what that is taken from."""
    if plan.log_sd == NO_MORE:
        return N_("Times scatter here as the model's own draws do; real pits scatter more.")
    between, within = plan.log_sd.between_pits, plan.log_sd.within_pit
    spread = N_(
        "another factor of %(factor)s up or down (standard deviations of the logarithm: "
        "%(between)s for a cooker's day, %(within)s for a piece)",
        factor=Number(math.exp(math.hypot(between, within)), 2),
        between=Number(between, 2),
        within=Number(within, 2),
    )
    learned = plan.learned
    if learned.given:
        return N_("Times are spread as you said, by %(spread)s.", spread=spread)
    if learned.stranger:
        return N_(
            "Nothing is known yet of how your cooks run, so times are spread as those of "
            "strangers' pits: by %(spread)s. Say how far your last three cooks ran from "
            "plan%(how)s, and the start moves.",
            spread=spread,
            how=OnFace(" (--last-cooks)", ""),
        )
    return N_(
        "Times are spread as your own cooks ran (%(own)s of this notebook, %(said)s as you said), "
        "by %(spread)s.",
        own=learned.own,
        said=learned.said,
        spread=spread,
    )


def night_words(plan: DayPlan) -> Message | None:
    """Return what a fire in the night buys; None where no fire is lit in it."""
    night = plan.night
    if night is None:
        return None
    zone, first = plan.day.zone, plan.plan.first_s
    return N_(
        "The first fire is lit %(lit)s. Served an hour later, %(later)s, it is lit %(lit_later)s "
        "and all is as sure. Lit an hour later and served as asked, all is ready in time on "
        "%(ready)s of 100 days. With no fire before %(night_ends)s it is served %(serve)s.",
        lit=_moment(plan, first),
        later=Instant(plan.at(HOUR_S), "time", zone),
        lit_later=_moment(plan, first + HOUR_S),
        ready=round(100 * night.ready_hour_later),
        night_ends=Instant(plan.at(first + night.later_s), "time", zone),
        serve=_moment(plan, night.later_s),
    )


def not_printed(plan: DayPlan) -> Message | None:
    """Return why no sheet is printed, and the smallest change that is enough; None where one is."""
    if plan.may_be_printed:
        return None
    return N_("%(why)s %(change)s", why=_why_not(plan), change=_best(plan))


def _why_not(plan: DayPlan) -> Message:
    return N_(
        "No run sheet is printed: the day goes as it is meant on only %(days)s of 100 simulated "
        "days, and %(even)s is the least.",
        days=round(100 * plan.plan.holds_within),
        even=round(100 * EVEN),
    )


def _best(plan: DayPlan) -> Message:
    """Return the smallest change that is enough, as one sentence."""
    enough = [one for one in plan.proposals if one.in_bounds >= plan.plan.asked.certainty]
    if not enough:
        return N_("Ask for a longer hold, or be content with less certainty.")
    return proposal_words(plan, enough[0])


def change_blocks(plan: DayPlan) -> Iterator[Block]:
    """Yield what would keep the meat from waiting too long; nothing for a day that does."""
    if not plan.may_be_printed:
        yield blocks.strong(_why_not(plan))
    if plan.proposals:
        yield blocks.items([proposal_words(plan, one) for one in plan.proposals])


def proposal_words(plan: DayPlan, one: DayProposal) -> Message:
    """Return one change and what it would do."""
    values = {"days": round(100 * one.in_bounds), "lit": _moment(plan, one.first_s)}
    hold_s = Duration(one.hold_s or 0.0, rough=True)
    match one.kind:
        case "hold":
            return N_(
                "Hold it in a cabinet at %(hold)s, up to %(longest)s as is usual for the cut "
                "(common practice): no piece waits longer on %(days)s of 100 days, and the fire is "
                "lit %(lit)s. Ask for it with %(field)s, for all arms alike.",
                hold=Temperature(one.hold_c or 0.0),
                longest=hold_s,
                field=InputField("hold"),
                **values,
            )
        case "longer hold":
            return N_(
                "Allow a hold of up to %(longest)s, as is usual for the cut (common practice), "
                "with %(field)s: no piece waits longer on %(days)s of 100 days.",
                longest=hold_s,
                field=InputField("hold_longest"),
                **values,
            )
        case "own times":
            return N_(
                "If your cooks run within %(off)s %% of plan two times out of three, the hold "
                "bridges it on %(days)s of 100 days, and the fire is lit %(lit)s. Say how the last "
                "ones ran with %(field)s.",
                off=round(100 * (one.off_by or 0.0)),
                field=InputField("last_cooks"),
                **values,
            )
        case _:
            return N_(
                "Cook it the day before: lit %(lit)s, it is off in time to be sliced or pulled, "
                "cooled to %(cold)s within %(cools)s and heated to %(hot)s within %(heats)s "
                "(Food Code) on %(ready)s of 100 days; what waits is cold, as long as you like.",
                lit=values["lit"],
                ready=round(100 * one.within),
                cold=Temperature(SAFETY_LIMITS["code 57 to 5"].to_c or 0.0),
                cools=Duration(COOLS_S, rough=True),
                hot=Temperature(SAFETY_LIMITS["reheat 74 °C"].at_least_c or 0.0),
                heats=Duration(REHEATS_S, rough=True),
            )


def effect_blocks(plan: DayPlan) -> Iterator[Block]:
    """Yield how much later the fire would be lit without each assumption."""
    shown = [one for one in plan.effects if abs(one.later_s) >= _POINT_S]
    if not shown:
        return
    yield blocks.text(
        N_(
            "The first fire is lit %(lit)s. It would be later:",
            lit=_moment(plan, plan.plan.first_s),
        )
    )
    yield blocks.items([_effect(plan, one) for one in shown])


def _effect(plan: DayPlan, one: StartEffect) -> Message:
    asked, time = plan.plan.asked, Duration(abs(one.later_s), rough=True)
    match one.assumption:
        case "variation":
            return N_("%(time)s if times spread no more than the model's own draws", time=time)
        case "certainty":
            return N_(
                "%(time)s if every other day in time were enough, not %(sure)s of 100",
                time=time,
                sure=round(100 * asked.certainty),
            )
        case "hold":
            return N_("%(time)s without the shortest hold", time=time)
        case "rest":
            return N_("%(time)s if it were sliced as soon as it is opened", time=time)
        case _:
            return N_("%(time)s if the cooker were hot at once", time=time)
