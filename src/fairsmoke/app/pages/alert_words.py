"""The words of alerts: what is the matter, and what to check."""

from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from fairsmoke.app.pages.words import ACTS
from fairsmoke.live.alerts import Alert, AlertKind
from fairsmoke.messages.message import N_, Message
from fairsmoke.telling.reader import Reader
from fairsmoke.trial.cook import EventKind

_STAGE_CHECKS: Mapping[EventKind, Message] = {
    EventKind.WRAP: N_("Check the core with a second thermometer, then wrap and record it."),
    EventKind.PULL: N_("Check the core in more than one place, then pull it and record it."),
    EventKind.HOLD: N_("Check that the hold is hot before the meat goes in."),
    EventKind.HOLD_END: N_("Check the core once more, then take it out and record it."),
    EventKind.ON: N_("Put it on, and record it."),
}


@dataclass(frozen=True)
class SaidAlert:
    """An alert in words."""

    key: str
    title: Message
    check: Message
    pressing: bool


def said(alert: Alert, way: Reader, zone: ZoneInfo) -> SaidAlert:
    """Return what an alert says to somebody; ``zone`` is that of the clocks at the cooker."""
    return SaidAlert(alert.key, _title(alert, way, zone), _check(alert), alert.pressing)


def _title(alert: Alert, way: Reader, zone: ZoneInfo) -> Message:
    piece = alert.piece.name if alert.piece else ""
    probe = alert.probe.name if alert.probe else ""
    value = "" if alert.value_c is None else way.temperature(alert.value_c)
    limit = "" if alert.limit_c is None else way.temperature(alert.limit_c)
    since = "" if alert.since is None else way.time(alert.since, zone)
    spent = "" if alert.spent_s is None else way.minutes(alert.spent_s)
    allowed = "" if alert.limit_s is None else way.minutes(alert.limit_s)
    words = {"piece": piece, "probe": probe, "value": value, "limit": limit, "since": since}
    match alert.kind:
        case AlertKind.PIT_COLD:
            return N_(
                "%(cooker)s is too cold: %(value)s, below %(limit)s since %(since)s",
                cooker=alert.cooker,
                **words,
            )
        case AlertKind.PIT_HOT:
            return N_(
                "%(cooker)s is too hot: %(value)s, above %(limit)s since %(since)s",
                cooker=alert.cooker,
                **words,
            )
        case AlertKind.STAGE_REACHED:
            act = ACTS[alert.acts[0]]
            return N_("%(piece)s has reached its mark: %(act)s", act=act, piece=piece)
        case AlertKind.PROBE_LOST:
            return N_("%(probe)s has sent nothing since %(since)s", **words)
        case AlertKind.PROBE_OPEN:
            return N_("%(probe)s reads as if unplugged since %(since)s", **words)
        case AlertKind.HOLD_COLD:
            return N_("%(piece)s is held too cold: %(value)s, below %(limit)s", **words)
        case AlertKind.COMING_UP:
            return N_(
                "%(piece)s warms slowly: %(spent)s of at most %(allowed)s in the growth range",
                piece=piece,
                spent=spent,
                allowed=allowed,
            )
        case AlertKind.COMING_UP_OVER:
            return N_(
                "%(piece)s was in the growth range for %(spent)s while warming: over %(allowed)s",
                piece=piece,
                spent=spent,
                allowed=allowed,
            )
        case AlertKind.COOLED:
            return N_(
                "%(piece)s has been below holding heat for %(spent)s of at most %(allowed)s",
                piece=piece,
                spent=spent,
                allowed=allowed,
            )
        case AlertKind.COOLED_OVER:
            return N_(
                "%(piece)s has been below holding heat for %(spent)s: over %(allowed)s",
                piece=piece,
                spent=spent,
                allowed=allowed,
            )


def _check(alert: Alert) -> Message:
    match alert.kind:
        case AlertKind.PIT_COLD:
            return N_("Check fire, fuel, vents and lid, and that the probe is in its place.")
        case AlertKind.PIT_HOT:
            return N_("Check the vents, the fan and for dripping fat that burns. Mind the flames.")
        case AlertKind.STAGE_REACHED:
            if alert.feel:
                return N_("The plan also says: %(feel)s. Check that too.", feel=alert.feel)
            return _STAGE_CHECKS.get(alert.acts[0], N_("Do it, and record it."))
        case AlertKind.PROBE_LOST:
            return N_("Check its plug, its battery and the logger, and measure by hand meanwhile.")
        case AlertKind.PROBE_OPEN:
            return N_("Check its plug and cable, and measure by hand meanwhile.")
        case AlertKind.HOLD_COLD:
            return N_(
                "Check the core in several places and the cabinet. The US Food Code says 57 °C "
                "(135 °F) or above, the German BfR advises 60 °C (140 °F). Follow your local code."
            )
        case AlertKind.COMING_UP | AlertKind.COMING_UP_OVER:
            return N_(
                "Check the core with a second thermometer and the pit's heat. US inspectors (FSIS, "
                "second hand) allow 6 h between 10 and 54.4 °C (50 and 130 °F); here 4 to 60 °C "
                "(40 to 140 °F) counts. Cooking on does not undo a toxin. Follow your local code."
            )
        case AlertKind.COOLED | AlertKind.COOLED_OVER:
            return N_(
                "Check the core now. Without heat the US Food Code allows 4 h from 57 °C (135 °F), "
                "then it is served or thrown away. Follow your local code."
            )
