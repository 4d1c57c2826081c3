"""The cautions, and what the record shows and lacks about each piece's safety."""

from fairsmoke.judging.conduct import (
    COME_UP_FROM_C,
    COME_UP_LIMIT_S,
    COME_UP_TO_C,
    COOL_END_C,
    COOL_END_LIMIT_S,
    COOL_MIDDLE_C,
    COOL_MIDDLE_LIMIT_S,
    HOLD_CODE_C,
    Cooling,
    Implausible,
    PieceConduct,
)
from fairsmoke.judging.finding import Finding
from fairsmoke.messages.message import N_, Listed, Words, alone, in_a_row, stretch
from fairsmoke.quantity.values import Duration, Temperature
from fairsmoke.telling import blocks
from fairsmoke.telling.blocks import Section
from fairsmoke.telling.record_words import spot_name
from fairsmoke.trial.cook import EventKind
from fairsmoke.trial.protocol import Cover
from fairsmoke.trial.record import TrialRecord

COME_UP_ENDS = stretch(
    Temperature(COME_UP_FROM_C, limit=True), Temperature(COME_UP_TO_C, limit=True)
)
"""The ends of the slow warming that the guideline limits: 50 to 130 °F."""

_HOT, _MIDDLE, _COLD = map(Temperature, (HOLD_CODE_C, COOL_MIDDLE_C, COOL_END_C))


def cautions_section(finding: Finding) -> Section:
    """Return the cautions, and what the record shows and lacks about each piece's safety."""
    record = finding.record
    section = Section(N_("Cautions"))
    section.blocks += [blocks.items([*doubt_lines(finding), *caution_lines(record)])]
    rows = [
        [
            record.piece(found.piece).name,
            _come_up(found),
            _hold(found, _probe_error_k(record, found.piece)),
            cooling_words(found.cooling),
            _lacking(record, found),
        ]
        for found in finding.conduct.pieces
    ]
    if rows:
        columns = [
            blocks.Column(N_("Piece"), width=2.5),
            blocks.Column(N_("Slow warming, core %(ends)s", ends=COME_UP_ENDS), width=4),
            blocks.Column(N_("Hot holding"), width=4),
            blocks.Column(N_("Cooling, core"), width=4),
            blocks.Column(N_("What the record lacks"), width=4),
        ]
        section.blocks += [
            blocks.heading(N_("What the record shows")),
            blocks.table(columns, rows),
            blocks.small(
                N_(
                    "Compared with: at most %(come_up)s from %(ends)s, USDA FSIS cooking guideline "
                    "as quoted by Shrestha et al., J. Food Prot. 88:100445, 2025; and %(hot)s or "
                    "more in hot holding, FDA Food Code 3-501.16(A)(1), with the probe's own error "
                    "counted against it. Holding is told by the core, or by the air of the cabinet "
                    "where no probe was left in the meat. Cooling: %(hot)s to %(middle)s within "
                    "%(middle_time)s and to %(cold)s within %(cold_time)s in all, Food Code "
                    "3-501.14(A), as the core probe read it after the pull.",
                    come_up=Duration(COME_UP_LIMIT_S),
                    ends=COME_UP_ENDS,
                    hot=_HOT,
                    middle=_MIDDLE,
                    middle_time=Duration(COOL_MIDDLE_LIMIT_S),
                    cold=_COLD,
                    cold_time=Duration(COOL_END_LIMIT_S),
                )
            ),
        ]
    return section


def caution_lines(record: TrialRecord) -> list[Words]:
    """Return what anyone who copies this cook should know, from what was done in it."""
    lines: list[Words] = [
        N_(
            "This report does not say that any food is fit to eat. It says what the record shows "
            "and what it lacks; your local code and the authority that enforces it decide."
        ),
        N_(
            "No difference in it, not more yield, less time or a better score, is a reason to cook "
            "less, to hold cooler or to cool slower than that code asks."
        ),
        N_(
            "Undercooking: a core reading is one spot, and the coldest may lie elsewhere, beside "
            "the bone or in the thickest part. Check several, with a thermometer tested in melting "
            "ice."
        ),
        N_(
            "Cooling is a danger of its own for large pieces. The FDA Food Code asks for %(hot)s "
            "to %(middle)s within %(middle_time)s and to %(cold)s within %(cold_time)s in all "
            "(3-501.14(A)); cut or spread the meat, do not cool it whole.",
            hot=_HOT,
            middle=_MIDDLE,
            middle_time=Duration(COOL_MIDDLE_LIMIT_S),
            cold=_COLD,
            cold_time=Duration(COOL_END_LIMIT_S),
        ),
        N_(
            "Fire and fumes: charcoal, wood and gas make carbon monoxide, which kills unnoticed. "
            "Never run or store a lit cooker indoors, in a garage or a tent. Keep it clear of what "
            "burns, and do not leave it unattended through the night."
        ),
    ]
    covers = _covers(record)
    if Cover.PAPER in covers:
        lines.append(
            N_(
                "Paper near heat: only uncoated food paper, well away from flame, coals and the "
                "firebox; it chars and can catch fire, and so can fat that soaks through it."
            )
        )
    if covers & {Cover.FILM, Cover.FILM_UNDER_FOIL}:
        lines.append(
            N_(
                "Film near heat: only film whose maker states the temperature, the time and "
                "contact with fatty food, and never above that; no direct heat. Common "
                "polyethylene film begins to melt near 98 to 115 °C (208 to 239 °F), below many "
                "pit temperatures."
            )
        )
    if any(piece.injected for piece in record.pieces):
        lines.append(
            N_(
                "Injected meat: what was on the surface has been carried inside, so that limits "
                "for whole cuts no longer fit it."
            )
        )
    return lines


def doubt_lines(finding: Finding) -> list[Words]:
    """Say which temperatures cannot be right, and what to look at."""
    return [_doubt(finding.record, one) for one in finding.conduct.implausible]


def _doubt(record: TrialRecord, one: Implausible) -> Words:
    names = {probe.id: probe.name for probe in record.probes}
    probes = [names.get(probe, probe) for probe in one.probes]
    cook = next((cook.name for cook in record.cooks if cook.id == one.cook), one.cook)
    shown = Temperature(one.value_c)
    if one.what == "core":
        said = N_(
            "the core of %(piece)s reached %(shown)s, which no meat does that still holds water",
            piece=record.piece(one.where).name,
            shown=shown,
        )
    elif one.planned_c is None:
        place = spot_name(record, one.where)
        said = N_("the air at “%(place)s” was %(shown)s on average", place=place, shown=shown)
    else:
        low, high = map(Temperature, one.planned_c)
        said = N_(
            "the air at “%(place)s” was %(shown)s on average, with %(planned)s planned",
            place=spot_name(record, one.where),
            shown=shown,
            planned=low if low == high else stretch(low, high),
        )
    return N_(
        "Check the unit of %(probes)s, %(cook)s: %(said)s.",
        probes=Listed(probes) if probes else N_("the probe"),
        cook=cook,
        said=said,
    )


def _covers(record: TrialRecord) -> set[Cover]:
    stages = [
        stage for arm in record.trial.arms for stage in record.trial.protocol_of(arm.id).stages
    ]
    return {cover for stage in stages for cover in (stage.wrap.above, stage.wrap.below)}


def _probe_error_k(record: TrialRecord, piece: str) -> float:
    """Return the largest stated error of the probes that were in a piece."""
    accuracy = {probe.id: probe.accuracy_k for probe in record.probes}
    inside = [accuracy.get(stay.probe, 0.0) for stay in record.placements if stay.piece == piece]
    return max(inside, default=0.0)


def _come_up(found: PieceConduct) -> Words:
    if found.come_up_s is None:
        return N_("not known: the readings do not span it")
    time, limit = Duration(found.come_up_s), Duration(COME_UP_LIMIT_S)
    late = found.come_up_starts_late
    shown = N_("over %(time)s", time=time) if late else alone(time)
    if found.come_up_s > COME_UP_LIMIT_S:
        return N_("%(shown)s: longer than the guideline's %(limit)s", shown=shown, limit=limit)
    if late:
        return N_("%(shown)s: the start was not read, so it cannot be compared", shown=shown)
    return shown


def _hold(found: PieceConduct, error_k: float) -> Words:
    if found.hold_s is None:
        return N_("no hold was recorded")
    time = Duration(found.hold_s)
    if found.hold_lowest_c is None:
        return N_("%(time)s, temperature not read", time=time)
    lowest = Temperature(found.hold_lowest_c)
    shown = N_("%(time)s, lowest %(lowest)s", time=time, lowest=lowest)
    if found.hold_lowest_c < HOLD_CODE_C:
        return N_("%(shown)s: below the code's %(limit)s", shown=shown, limit=_HOT)
    if found.hold_lowest_c - error_k < HOLD_CODE_C:
        return N_(
            "%(shown)s: not above %(limit)s once the probe's error is counted",
            shown=shown,
            limit=_HOT,
        )
    return shown


def cooling_words(found: Cooling | None) -> Words:
    """Say how a core cooled, against the rule for cooling where it was read so far."""
    if found is None:
        return N_("not read")
    so_far = N_(
        "readings end before, at %(last)s after %(time)s",
        last=Temperature(found.last_c),
        time=Duration(found.read_s),
    )
    texts: list[Words] = []
    for to, taken, limit_s in (
        (_MIDDLE, found.to_middle_s, COOL_MIDDLE_LIMIT_S),
        (_COLD, found.to_end_s, COOL_END_LIMIT_S),
    ):
        ends, limit = stretch(_HOT, to), Duration(limit_s)
        if taken is not None:
            shown = N_("%(ends)s in %(time)s", ends=ends, time=Duration(taken))
            longer = N_("longer than the code's %(limit)s", limit=limit)
            texts.append(in_a_row([shown, longer if taken > limit_s else ""], ", "))
            continue
        shown = N_("%(ends)s not seen: %(so_far)s", ends=ends, so_far=so_far)
        longer = N_("longer than the code's %(limit)s already", limit=limit)
        texts.append(in_a_row([shown, longer if found.read_s > limit_s else ""], ", "))
        break
    return in_a_row(texts, "; ")


def _lacking(record: TrialRecord, found: PieceConduct) -> Words:
    lacks: list[Words] = []
    if found.core_highest_c is None:
        lacks.append(N_("any core reading"))
    elif found.core_hours_without > 0.05:
        without = Duration(3600 * found.core_hours_without)
        lacks.append(N_("core readings for %(time)s", time=without))
    if not any(s.piece == found.piece and s.measures == "surface" for s in record.placements):
        lacks.append(N_("surface readings"))
    if found.hold_s is None and not record.events_of(found.piece, EventKind.HOLD):
        lacks.append(N_("a hold"))
    if found.cooling is None:
        lacks.append(N_("cooling and storage"))
    elif found.cooling.to_end_s is None:
        lacks.append(N_("cooling to the end, storage"))
    else:
        lacks.append(N_("storage"))
    return Listed(lacks)
