"""How a trial was run: protocol, cooks, pieces, curves, the pit."""

from collections.abc import Iterator

from fairsmoke.judging.conduct import PieceConduct
from fairsmoke.judging.finding import Finding
from fairsmoke.messages.message import N_, NN_, Listed, Message, Words, alone, in_a_row, stretch
from fairsmoke.quantity.values import (
    Duration,
    Instant,
    Length,
    Mass,
    MassSpread,
    Number,
    Temperature,
    TemperatureDifference,
)
from fairsmoke.telling import blocks
from fairsmoke.telling.blocks import Block, Column, Section
from fairsmoke.telling.curve_data import CookCurves
from fairsmoke.telling.finding.cautions import COME_UP_ENDS, doubt_lines
from fairsmoke.telling.finding.registration import layout_blocks, registration_blocks
from fairsmoke.telling.record_words import (
    DRAWN_WITHIN,
    HUMIDITIES,
    PLACES_OF_STAGES,
    spot_name,
    wrap_words,
)
from fairsmoke.trial.clock import instant_of_ms, time_zone
from fairsmoke.trial.cook import Cook, Piece
from fairsmoke.trial.protocol import EndCondition, Humidity, Stage
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import MeatState, Part, PartKind

NOTHING = "–"


def plan_section(finding: Finding) -> Section:
    """Return how the trial was planned: what differs, the stages of each arm, the draw."""
    record = finding.record
    trial = record.trial
    section = Section(N_("How the trial was run"))
    draw = trial.draw
    how = N_("drawn by chance") if draw.how == "drawn" else N_("chosen by hand")
    seed = N_("seed %(seed)s", seed=str(draw.seed)) if draw.seed is not None else ""
    who = in_a_row([in_a_row([how, DRAWN_WITHIN[draw.within]]), seed], ", ")
    site: Words = ""
    if trial.altitude_m:
        site = N_("%(height)s m above the sea", height=Number(trial.altitude_m, 0))
    section.blocks += [
        blocks.facts(
            [
                (N_("What differs"), trial.differs),
                (
                    N_("Arms"),
                    Listed([f"{arm.name} ({arm.id})" for arm in trial.arms], between="; "),
                ),
                (N_("Who got which"), in_a_row([in_a_row([who, "."], ""), draw.note])),
                (N_("Main measure"), trial.main_measure.name),
                (N_("Site"), site),
                (N_("Note"), trial.note),
            ]
        ),
        blocks.heading(N_("Protocol")),
        _stages(record),
    ]
    section.blocks += [*layout_blocks(record), *registration_blocks(finding)]
    section.blocks += [blocks.heading(N_("Pieces")), *_pieces(finding)]
    return section


def _stages(record: TrialRecord) -> Block:
    trial = record.trial
    protocols = [trial.protocol_of(arm.id) for arm in trial.arms]
    order = list(dict.fromkeys(stage.id for p in protocols for stage in p.stages))
    rows: list[list[Words]] = []
    for handle in order:
        found = [{s.id: s for s in p.stages}.get(handle) for p in protocols]
        name = next(stage.name for stage in found if stage is not None)
        texts = [stage_words(stage) if stage else N_("not done") for stage in found]
        if len(set(map(str, texts))) == 1:
            texts = [texts[0], *(N_("the same") for _ in texts[1:])]
        rows.append([name, *texts])
    columns = [Column(N_("Stage"), width=2), *(Column(arm.name, width=4) for arm in trial.arms)]
    return blocks.table(columns, rows)


def stage_words(stage: Stage) -> Words:
    """Return a stage in words: where, how warm, how moist, in what, and what ends it."""
    where = PLACES_OF_STAGES[stage.place]
    if stage.surround_c is not None:
        warm = Temperature(stage.surround_c)
        where = N_("%(place)s at %(temperature)s", place=where, temperature=warm)
    parts: list[Words] = [where, wrap_words(stage.wrap)]
    if stage.humidity is not Humidity.NONE:
        parts.append(HUMIDITIES[stage.humidity])
    for added in stage.adds:
        what: Words = added.name
        if added.mass_kg is not None:
            what = _beside(added.name, Mass(added.mass_kg, small=True))
        parts.append(N_("with %(added)s", added=what))
    ends = Listed([_end_words(end) for end in stage.ends], "or")
    return in_a_row([N_("%(stage)s. Ends %(ends)s.", stage=Listed(parts), ends=ends), stage.note])


def _beside(name: str, mass: Mass) -> Message:
    return Message("%(name)s %(mass)s", {"name": name, "mass": mass})


def _end_words(end: EndCondition) -> Words:
    if end.core_c is not None:
        return N_("at a core of %(temperature)s", temperature=Temperature(end.core_c))
    if end.elapsed_s is not None:
        return N_("after %(time)s", time=Duration(end.elapsed_s))
    if end.clock is not None:
        return N_("at %(clock)s", clock=end.clock)
    return N_("when %(feel)s", feel=end.feel)


def _pieces(finding: Finding) -> Iterator[Block]:
    record = finding.record
    arms = {arm.id: arm.name for arm in record.trial.arms}
    cooks = {cook.id: cook.name for cook in record.cooks}
    columns = [
        Column(N_("Piece"), width=3),
        Column(N_("Arm"), width=3),
        Column(N_("Cook and place"), width=4),
        Column(N_("Trimmed"), "right", 2),
        Column(N_("Length × width × thickness, fat cap"), width=4),
    ]
    rows = [
        [
            piece.name,
            arms.get(piece.arm or "", NOTHING),
            in_a_row([cooks.get(piece.cook or "", ""), place_name(record, piece)], ", "),
            _trimmed(finding, piece),
            _dimensions(piece),
        ]
        for piece in record.units
    ]
    yield blocks.table(columns, rows)
    cuts = {str(words): words for words in map(_cut_words, record.units)}
    yield blocks.small(
        N_(
            "Cut: %(cuts)s. Trimmed mass as put on ± half of its 95 %% interval.",
            cuts=Listed(list(cuts.values()), between="; "),
        )
    )
    notes = [f"{piece.name}: {piece.note}" for piece in record.pieces if piece.note]
    shared = {piece.note for piece in record.pieces if piece.note}
    if len(shared) == 1 and len(notes) == len(record.pieces):
        yield blocks.small(N_("All pieces: %(note)s", note=shared.pop()))
    elif notes:
        yield blocks.items(notes)


def _cut_words(piece: Piece) -> Words:
    half: Words = ""
    if piece.half_of:
        half = N_("%(side)s half", side=piece.side) if piece.side else N_("half")
    injected = N_("injected") if piece.injected else ""
    return in_a_row([piece.cut, piece.grade, injected, half], ", ")


def place_name(record: TrialRecord, piece: Piece) -> str:
    """Return the name of the place at which a piece stood."""
    if piece.spot is None:
        return ""
    for cooker in record.cookers:
        for position in cooker.positions:
            if (cooker.id, position.id) == (piece.spot.cooker, piece.spot.position):
                return f"{cooker.name}: {position.name}"
    return piece.spot.text


def _trimmed(finding: Finding, piece: Piece) -> Words:
    if finding.ledger is None:
        return NOTHING
    known = finding.ledger.known(piece.id, Part(kind=PartKind.MEAT, label=MeatState.TRIMMED))
    if known.spread is None:
        return NOTHING
    mass = MassSpread(known.spread.mean, known.spread.half_width, as_scales=True)
    return alone(mass)


def _dimensions(piece: Piece) -> Words:
    sides = (piece.length_m, piece.width_m, piece.thick_m)
    if all(side is None for side in (*sides, piece.fat_cap_m)):
        return NOTHING
    size = Listed([_length(side) for side in sides], between=" × ")
    return in_a_row([size, _length(piece.fat_cap_m) if piece.fat_cap_m else ""], ", ")


def _length(side: float | None) -> Words:
    return "?" if side is None else alone(Length(side))


def cook_section(
    finding: Finding, cook: Cook, shown: CookCurves | None, picture: str | None
) -> Section:
    """Return one cook: when and where, its curves, and its events by number."""
    zone = time_zone(cook.time_zone)
    cookers = [cooker for cooker in finding.record.cookers if cooker.id in cook.cookers]
    section = Section(N_("Cook: %(cook)s", cook=cook.name))
    start = Instant(cook.starts, zone=zone)
    when = stretch(start, Instant(cook.ends, zone=zone)) if cook.ends else start
    section.blocks.append(
        blocks.facts(
            [
                (
                    N_("When"),
                    Message("%(when)s (%(zone)s)", {"when": when, "zone": cook.time_zone}),
                ),
                (
                    N_("Cookers"),
                    Listed(
                        [", ".join(filter(None, (c.name, c.fuel))) for c in cookers], between="; "
                    ),
                ),
                (N_("Weather"), cook.weather),
                (N_("Note"), cook.note),
            ]
        )
    )
    if shown is not None and picture is not None:
        section.blocks.append(blocks.figure(picture, curve_caption(shown), curve_alt(shown)))
    else:
        section.blocks.append(blocks.text(N_("No temperatures were recorded in this cook.")))
    if shown is not None and shown.markers:
        section.blocks.append(
            blocks.numbered([(str(m.number), m.clock, m.text) for m in shown.markers])
        )
    return section


def curve_caption(shown: CookCurves) -> Words:
    """Explain the chart of a cook's temperatures."""
    parts: list[Words] = [
        N_(
            "Lines are means of every %(bucket)s, grey bands the lowest and highest believed "
            "reading; gaps longer than 15 min are left open.",
            bucket=Duration(shown.bucket_s),
        )
    ]
    if shown.doubts.count:
        parts.append(
            NN_(
                "Hollow dots: %(count)s reading that is kept but not believed; one off the scale "
                "lies at its edge.",
                "Hollow dots: %(count)s readings that are kept but not believed; any that are off "
                "the scale lie at its edge.",
                shown.doubts.count,
            )
        )
    if shown.clock_changes:
        parts.append(N_("The clocks were changed at the dotted line."))
    return in_a_row([*parts, N_("Numbers are events, below.")])


def curve_alt(shown: CookCurves) -> Words:
    """Return the words that stand for the chart of a cook's temperatures."""
    curves = [
        N_(
            "%(curve)s from %(first)s to %(last)s, highest %(highest)s",
            curve=curve.label,
            first=Temperature(float(curve.mean[0])),
            last=Temperature(float(curve.mean[-1])),
            highest=Temperature(float(curve.high.max())),
        )
        for curve in shown.curves
    ]
    return N_(
        "Temperatures over the time of day in %(cook)s: %(curves)s.",
        cook=shown.cook.name,
        curves=Listed(curves, between="; "),
    )


def conduct_section(finding: Finding) -> Section:
    """Return what the readings say of the pit and of each piece's way through the cook."""
    record, conduct = finding.record, finding.conduct
    cooks = {cook.id: cook.name for cook in record.cooks}
    section = Section(N_("What the readings show of the pit and the pieces"))
    section.blocks += [blocks.strong(line) for line in doubt_lines(finding)]
    if conduct.spots:
        columns = [
            Column(N_("Cook"), width=3),
            Column(N_("Place"), width=4),
            Column(N_("Mean (sd over time)"), "right", 3),
            Column(N_("Lowest to highest"), "right", 3),
            Column(N_("Hours"), "right", 1),
            Column(N_("Not read"), "right", 1),
        ]
        rows: list[list[Words]] = [
            [
                cooks[spot.cook],
                spot_name(record, spot.spot),
                Message(
                    "%(mean)s (%(sd)s)",
                    {
                        "mean": Temperature(spot.mean_c),
                        "sd": TemperatureDifference(spot.sd_c, 0),
                    },
                ),
                stretch(Temperature(spot.low_c), Temperature(spot.high_c)),
                _hours(spot.hours),
                _hours(spot.hours_without),
            ]
            for spot in conduct.spots
        ]
        section.blocks += [
            blocks.heading(N_("Air, while pieces were on")),
            blocks.table(columns, rows),
        ]
    lines = [
        N_(
            "%(cook)s: “%(hotter)s” was %(by)s hotter than “%(cooler)s”, on average while both "
            "were read.",
            cook=cooks[c.cook],
            hotter=spot_name(record, c.hotter),
            by=TemperatureDifference(c.by_k),
            cooler=spot_name(record, c.cooler),
        )
        for c in conduct.contrasts
    ]
    if lines:
        section.blocks.append(blocks.items(lines))
    if conduct.pieces:
        section.blocks += [
            blocks.heading(N_("Pieces")),
            _piece_table(record, conduct.pieces),
            blocks.small(
                N_(
                    "Come-up is the time that the core took from %(ends)s; “over” where readings "
                    "began later. Lowest in hold: the core, or the cabinet's air where no probe "
                    "was left in the meat. A dash: the record does not say.",
                    ends=COME_UP_ENDS,
                )
            ),
        ]
    return section


def _hours(hours: float) -> Words:
    return alone(Number(hours))


def _piece_table(record: TrialRecord, pieces: tuple[PieceConduct, ...]) -> Block:
    columns = [
        Column(N_("Piece"), width=3),
        Column(N_("On"), "right", 1.6),
        Column(N_("Wrapped"), "right", 1.6),
        Column(N_("Pulled"), "right", 1.6),
        Column(N_("On the cooker"), "right", 2.4),
        Column(N_("Core at pull"), "right", 1.8),
        Column(N_("Come-up"), "right", 2.2),
        Column(N_("Held"), "right", 2.2),
        Column(N_("Lowest in hold"), "right", 1.8),
    ]
    rows: list[list[Words]] = []
    for found in pieces:
        piece = record.piece(found.piece)
        zone = time_zone(record.cook(piece.cook).time_zone) if piece.cook else None
        clocks: list[Words] = [
            alone(Instant(instant_of_ms(at), "time", zone)) if at is not None and zone else NOTHING
            for at in (found.on_ms, found.wrapped_ms, found.pulled_ms)
        ]
        come_up = _time(found.come_up_s)
        if found.come_up_starts_late and found.come_up_s:
            come_up = N_("over %(time)s", time=come_up)
        rows.append(
            [
                piece.name,
                *clocks,
                _time(found.cook_s),
                _temperature(found.core_at_pull_c),
                come_up,
                _time(found.hold_s),
                _temperature(found.hold_lowest_c),
            ]
        )
    return blocks.table(columns, rows)


def _time(seconds: float | None) -> Words:
    return NOTHING if seconds is None else alone(Duration(seconds))


def _temperature(value_c: float | None) -> Words:
    return NOTHING if value_c is None else alone(Temperature(value_c))
