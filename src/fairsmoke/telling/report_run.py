"""The pages that tell how a trial was run: protocol, cooks, pieces, curves, the pit."""

from collections.abc import Iterator

from fairsmoke.judging.conduct import PieceConduct
from fairsmoke.judging.finding import Finding
from fairsmoke.quantity import (
    METRIC,
    Units,
    show_duration,
    show_length,
    show_mass_small,
    show_temperature,
    show_temperature_difference,
)
from fairsmoke.telling import blocks
from fairsmoke.telling.blocks import Block, Column, Section
from fairsmoke.telling.curve_data import CookCurves
from fairsmoke.telling.numbers import show_clock, show_mass_plus_minus, show_moment
from fairsmoke.telling.registered import layout_blocks, registration_blocks
from fairsmoke.telling.sentences import come_up_ends, doubt_lines
from fairsmoke.trial.clock import instant_of_ms, time_zone
from fairsmoke.trial.cook import Cook, Piece
from fairsmoke.trial.protocol import Cover, EndCondition, Humidity, Stage
from fairsmoke.trial.question import Arm
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import MeatState, Part, PartKind

NOTHING = "–"


def plan_section(finding: Finding, units: Units = METRIC) -> Section:
    """Return how the trial was planned: what differs, the stages of each arm, the draw."""
    record = finding.record
    trial = record.trial
    section = Section("How the trial was run")
    draw = trial.draw
    how = "drawn by chance" if draw.how == "drawn" else "chosen by hand"
    seed = f", seed {draw.seed}" if draw.seed is not None else ""
    section.blocks += [
        blocks.facts(
            [
                ("What differs", trial.differs),
                ("Arms", "; ".join(f"{arm.name} ({arm.id})" for arm in trial.arms)),
                ("Who got which", f"{how} within each {draw.within}{seed}. {draw.note}".strip()),
                ("Main measure", trial.main_measure.name),
                ("Site", f"{trial.altitude_m:.0f} m above the sea" if trial.altitude_m else ""),
                ("Note", trial.note),
            ]
        ),
        blocks.heading("Protocol"),
        _stages(record, units),
    ]
    section.blocks += [*layout_blocks(record), *registration_blocks(finding)]
    section.blocks += [blocks.heading("Pieces"), *_pieces(finding, units)]
    return section


def _stages(record: TrialRecord, units: Units) -> Block:
    trial = record.trial
    protocols = [trial.protocol_of(arm.id) for arm in trial.arms]
    order = list(dict.fromkeys(stage.id for p in protocols for stage in p.stages))
    rows = []
    for handle in order:
        found = [{s.id: s for s in p.stages}.get(handle) for p in protocols]
        name = next(stage.name for stage in found if stage is not None)
        texts = [stage_text(stage, units) if stage else "not done" for stage in found]
        if len(set(texts)) == 1:
            texts = [texts[0], *("the same" for _ in texts[1:])]
        rows.append([name, *texts])
    columns = [Column("Stage", width=2), *(Column(arm.name, width=4) for arm in trial.arms)]
    return blocks.table(columns, rows)


def stage_text(stage: Stage, units: Units) -> str:
    """Return a stage in words: where, how warm, how moist, in what, and what ends it."""
    where = str(stage.place)
    if stage.surround_c is not None:
        where += f" at {show_temperature(stage.surround_c, units)}"
    parts = [where, stage.wrap.text if stage.wrap.text != Cover.BARE else "unwrapped"]
    if stage.humidity is not Humidity.NONE:
        parts.append(str(stage.humidity))
    for added in stage.adds:
        mass = f" {show_mass_small(added.mass_kg, units)}" if added.mass_kg is not None else ""
        parts.append(f"with {added.name}{mass}")
    ends = " or ".join(_end_text(end, units) for end in stage.ends)
    note = f" {stage.note}" if stage.note else ""
    return f"{', '.join(parts)}. Ends {ends}.{note}"


def _end_text(end: EndCondition, units: Units) -> str:
    if end.core_c is not None:
        return f"at a core of {show_temperature(end.core_c, units)}"
    if end.elapsed_s is not None:
        return f"after {show_duration(end.elapsed_s)}"
    if end.clock is not None:
        return f"at {end.clock}"
    return f"when {end.feel}"


def _pieces(finding: Finding, units: Units) -> Iterator[Block]:
    record = finding.record
    arms = {arm.id: arm for arm in record.trial.arms}
    cooks = {cook.id: cook for cook in record.cooks}
    columns = [
        Column("Piece", width=3),
        Column("Arm", width=3),
        Column("Cook and place", width=4),
        Column("Trimmed", "right", 2),
        Column("Length × width × thickness, fat cap", width=4),
    ]
    rows = [
        [
            piece.name,
            _arm_name(arms, piece),
            ", ".join(
                part
                for part in (
                    cooks[piece.cook].name if piece.cook in cooks else "",
                    place_name(record, piece),
                )
                if part
            ),
            _trimmed(finding, piece, units),
            _dimensions(piece, units),
        ]
        for piece in record.units
    ]
    yield blocks.table(columns, rows)
    cuts = list(dict.fromkeys(_cut_text(piece) for piece in record.units))
    yield blocks.small(f"Cut: {'; '.join(cuts)}. Trimmed mass as put on ± standard uncertainty.")
    notes = [f"{piece.name}: {piece.note}" for piece in record.pieces if piece.note]
    shared = {piece.note for piece in record.pieces if piece.note}
    if len(shared) == 1 and len(notes) == len(record.pieces):
        yield blocks.small(f"All pieces: {shared.pop()}")
    elif notes:
        yield blocks.items(notes)


def _arm_name(arms: dict[str, Arm], piece: Piece) -> str:
    return arms[piece.arm].name if piece.arm in arms else NOTHING


def _cut_text(piece: Piece) -> str:
    extras = [piece.grade, "injected" if piece.injected else ""]
    if piece.half_of:
        extras.append(f"{piece.side} half".strip() if piece.side else "half")
    return ", ".join(part for part in (piece.cut, *extras) if part)


def place_name(record: TrialRecord, piece: Piece) -> str:
    """Return the name of the place at which a piece stood."""
    if piece.spot is None:
        return ""
    for cooker in record.cookers:
        for position in cooker.positions:
            if (cooker.id, position.id) == (piece.spot.cooker, piece.spot.position):
                return f"{cooker.name}: {position.name}"
    return piece.spot.text


def _trimmed(finding: Finding, piece: Piece, units: Units) -> str:
    if finding.ledger is None:
        return NOTHING
    known = finding.ledger.known(piece.id, Part(kind=PartKind.MEAT, label=MeatState.TRIMMED))
    if known.spread is None:
        return NOTHING
    return show_mass_plus_minus(known.spread.mean, known.spread.standard_uncertainty, units)


def _dimensions(piece: Piece, units: Units) -> str:
    sides = (piece.length_m, piece.width_m, piece.thick_m)
    if all(side is None for side in (*sides, piece.fat_cap_m)):
        return NOTHING
    texts = [show_length(side, units) if side is not None else "?" for side in sides]
    unit = f" {units.length}"
    joined = " × ".join([text.removesuffix(unit) for text in texts[:-1]] + texts[-1:])
    return f"{joined}, {show_length(piece.fat_cap_m, units)}" if piece.fat_cap_m else joined


def cook_section(
    finding: Finding, cook: Cook, shown: CookCurves | None, picture: str | None, units: Units
) -> Section:
    """Return one cook: when and where, its curves, and its events by number."""
    record = finding.record
    cookers = {cooker.id: cooker for cooker in record.cookers}
    zone = time_zone(cook.time_zone)
    named = [cookers[handle] for handle in cook.cookers if handle in cookers]
    section = Section(f"Cook: {cook.name}")
    ends = f" to {show_moment(cook.ends, zone)}" if cook.ends else ""
    section.blocks.append(
        blocks.facts(
            [
                ("When", f"{show_moment(cook.starts, zone)}{ends} ({cook.time_zone})"),
                ("Cookers", "; ".join(f"{c.name}{f', {c.fuel}' * bool(c.fuel)}" for c in named)),
                ("Weather", cook.weather),
                ("Note", cook.note),
            ]
        )
    )
    if shown is not None and picture is not None:
        section.blocks.append(blocks.figure(picture, curve_caption(shown), curve_alt(shown)))
    else:
        section.blocks.append(blocks.text("No temperatures were recorded in this cook."))
    if shown is not None and shown.markers:
        section.blocks.append(
            blocks.numbered([(str(m.number), m.clock, m.text) for m in shown.markers])
        )
    return section


def curve_caption(shown: CookCurves) -> str:
    """Explain the chart of a cook's temperatures."""
    bucket = show_duration(shown.bucket_s)
    hollow = ""
    if shown.doubts.count:
        hollow = (
            f" Hollow dots: {shown.doubts.count:,} readings that are kept but not believed; any "
            "that are off the scale lie at its edge."
        )
    changed = " The clocks were changed at the dotted line." if shown.clock_changes else ""
    return (
        f"Lines are means of every {bucket}, grey bands the lowest and highest believed reading; "
        f"gaps longer than 15 min are left open.{hollow}{changed} Numbers are events, below."
    )


def curve_alt(shown: CookCurves) -> str:
    """Return the words that stand for the chart of a cook's temperatures."""
    parts = [
        f"{curve.label} from {curve.mean[0]:.0f} to {curve.mean[-1]:.0f} {shown.unit}, "
        f"highest {curve.high.max():.0f} {shown.unit}"
        for curve in shown.curves
    ]
    return f"Temperatures over the time of day in {shown.cook.name}: {'; '.join(parts)}."


def conduct_section(finding: Finding, units: Units = METRIC) -> Section:
    """Return what the readings say of the pit and of each piece's way through the cook."""
    record, conduct = finding.record, finding.conduct
    cooks = {cook.id: cook for cook in record.cooks}
    section = Section("What the readings show of the pit and the pieces")
    section.blocks += [blocks.strong(line) for line in doubt_lines(finding, units)]
    if conduct.spots:
        columns = [
            Column("Cook", width=3),
            Column("Place", width=4),
            Column("Mean ± sd over time", "right", 3),
            Column("Lowest to highest", "right", 3),
            Column("Hours", "right", 1),
            Column("Not read", "right", 1),
        ]
        rows = [
            [
                cooks[spot.cook].name,
                spot_name(record, spot.spot).strip("“”"),
                f"{show_temperature(spot.mean_c, units)} ± "
                f"{show_temperature_difference(spot.sd_c, units, 0)}",
                f"{show_temperature(spot.low_c, units)} to {show_temperature(spot.high_c, units)}",
                f"{spot.hours:.1f}",
                f"{spot.hours_without:.1f}",
            ]
            for spot in conduct.spots
        ]
        section.blocks += [blocks.heading("Air, while pieces were on"), blocks.table(columns, rows)]
    lines = [
        f"{cooks[c.cook].name}: {spot_name(record, c.hotter)} was "
        f"{show_temperature_difference(c.by_k, units)} hotter than {spot_name(record, c.cooler)}, "
        "on average while both were read."
        for c in conduct.contrasts
    ]
    if lines:
        section.blocks.append(blocks.items(lines))
    if conduct.pieces:
        section.blocks += [
            blocks.heading("Pieces"),
            _piece_table(record, conduct.pieces, units),
            blocks.small(
                f"Come-up is the time that the core took from {come_up_ends(units)}; "
                "“over” where readings began later. Lowest in hold: the core, or the cabinet's "
                "air where no probe was left in the meat. A dash: the record does not say."
            ),
        ]
    return section


def spot_name(record: TrialRecord, spot: str) -> str:
    """Return the name of a place from its handle, "barrel/left"."""
    for cooker in record.cookers:
        for position in cooker.positions:
            if f"{cooker.id}/{position.id}" == spot:
                return f"“{position.name}”"
    return spot


def _piece_table(record: TrialRecord, pieces: tuple[PieceConduct, ...], units: Units) -> Block:
    columns = [
        Column("Piece", width=3),
        Column("On", "right", 1.6),
        Column("Wrapped", "right", 1.6),
        Column("Pulled", "right", 1.6),
        Column("On the cooker", "right", 2.4),
        Column("Core at pull", "right", 1.8),
        Column("Come-up", "right", 2.2),
        Column("Held", "right", 2.2),
        Column("Lowest in hold", "right", 1.8),
    ]
    rows = []
    for found in pieces:
        piece = record.piece(found.piece)
        zone = time_zone(record.cook(piece.cook).time_zone) if piece.cook else None
        clocks = [
            show_clock(instant_of_ms(at), zone) if at is not None and zone else NOTHING
            for at in (found.on_ms, found.wrapped_ms, found.pulled_ms)
        ]
        come_up = _time(found.come_up_s)
        rows.append(
            [
                piece.name,
                *clocks,
                _time(found.cook_s),
                _temperature(found.core_at_pull_c, units),
                f"over {come_up}" if found.come_up_starts_late and found.come_up_s else come_up,
                _time(found.hold_s),
                _temperature(found.hold_lowest_c, units),
            ]
        )
    return blocks.table(columns, rows)


def _time(seconds: float | None) -> str:
    return NOTHING if seconds is None else show_duration(seconds)


def _temperature(value_c: float | None, units: Units) -> str:
    return NOTHING if value_c is None else show_temperature(value_c, units)
