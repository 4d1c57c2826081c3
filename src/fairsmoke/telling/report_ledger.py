"""The pages that tell where the mass went: every weighing as a sum, and what follows from them."""

import re
from collections.abc import Iterator

from fairsmoke.judging.finding import Finding
from fairsmoke.judging.responses import yield_caution
from fairsmoke.quantity import METRIC, Units, show_mass, show_mass_small
from fairsmoke.telling import blocks
from fairsmoke.telling.blocks import Block, Column, Section
from fairsmoke.telling.chart_data import TRIMMED_OFF, MassBar, mass_bars
from fairsmoke.telling.numbers import show_moment
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.cook import Piece
from fairsmoke.trial.question import MeasureKind
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import MeatState, Weighing
from fairsmoke.weighing import LedgerError, Solution, Yield, yields_of
from fairsmoke.weighing.yields import LEFT


def ledger_sections(finding: Finding, picture: str | None, units: Units = METRIC) -> list[Section]:
    """Return the mass ledgers: an overview, then each piece; ``picture`` names the chart."""
    record, ledger = finding.record, finding.ledger
    section = Section("Where the mass went")
    section.blocks += _faults(finding)
    if ledger is None:
        section.blocks += _weighings(record, list(record.weighings), units)
        return [section]
    if picture is not None:
        caption = _mass_caption(mass_bars(record, ledger, units))
        section.blocks.append(blocks.figure(picture, caption, _mass_alt(finding)))
    section.blocks += _overview(finding)
    section.blocks += _scales(record, units)
    lines = [found.text(units) for found in ledger.disagreements]
    if lines:
        section.blocks += [blocks.heading("Weighings that disagree"), blocks.items(lines)]
    shared = [weighing for weighing in record.weighings if weighing.piece is None]
    if shared:
        section.blocks += [blocks.heading("Trays"), *_weighings(record, shared, units)]
    return [section, *(_piece_section(finding, ledger, piece, units) for piece in record.units)]


def _faults(finding: Finding) -> Iterator[Block]:
    """Yield the weighings that cannot all be true, whose yields that takes, and what is open."""
    if finding.ledger_problem:
        yield blocks.heading("Weighings that cannot all be true")
        yield blocks.items(finding.ledger_problem.splitlines())
        names = ", ".join(finding.record.piece(one).name for one in finding.ledger_aside)
        if names:
            yield blocks.strong(f"Until that is mended there is no yield of {names}.")
    if finding.remarks:
        yield blocks.heading("Not weighed")
        yield blocks.items([f"{line[0].upper()}{line[1:]}." for line in finding.remarks])


def _mass_caption(bars: tuple[MassBar, ...]) -> str:
    bought = all(bar.parts[-1].name.endswith(TRIMMED_OFF) for bar in bars)
    return (
        f"Where the meat of each piece went{', as bought' if bought else ''}. What is lost on the "
        "cooker is trimmed raw meat less cooked meat; rub and added fat are not counted in it."
    )


def _mass_alt(finding: Finding) -> str:
    names = ", ".join(piece.name for piece in finding.record.units)
    return f"Bars that split the raw mass of {names} into what is left and what each step took."


def states_of(finding: Finding) -> list[MeatState]:
    """Return the states whose yields are told: those that are measured, else as cooked."""
    measured = [m.state for m in finding.record.trial.measures if m.kind is MeasureKind.YIELD]
    return list(dict.fromkeys(measured)) or [MeatState.COOKED]


YIELD_COLUMNS = (
    Column("Piece", width=3),
    Column("Meat", width=2),
    Column("Yield ± half of 95 % interval", "right", 3),
    Column("How known", width=4),
    Column("What its uncertainty comes from", width=5),
)


def _overview(finding: Finding) -> Iterator[Block]:
    rows = [row for piece in finding.record.units for row in yield_rows(finding, piece)]
    yield blocks.heading("Yields on the one basis that is compared: trimmed raw meat as put on")
    yield blocks.table(YIELD_COLUMNS, rows)


def yield_rows(finding: Finding, piece: Piece) -> Iterator[list[str]]:
    """Yield a row of the table of yields for each state of a piece's meat that is told."""
    for state in states_of(finding):
        try:
            found = _yields_if_sound(finding, piece, state)[0]
        except LedgerError as error:
            yield [piece.name, str(state), "not known", "–", str(error)]
            continue
        sources = found.source_rows()[:3]
        shares = "; ".join(f"{_named(row.label, piece)} {row.value}" for row in sources)
        how = yield_caution(found) or str(found.how)
        yield [piece.name, str(state), _bare(found), how, shares]


def _yields_if_sound(finding: Finding, piece: Piece, state: MeatState) -> tuple[Yield, ...]:
    if finding.ledger is None or piece.id in finding.ledger_aside:
        raise LedgerError("its weighings cannot all be true; see above", pieces=(piece.id,))
    return yields_of(finding.ledger, piece.id, state)


def _bare(found: Yield) -> str:
    """Return a yield without what would pin it down, which stands in the next column."""
    return found.text.partition(" (not weighed")[0]


def _stated(mass_kg: float, units: Units, digits: int) -> str:
    return show_mass_small(mass_kg, units, digits) if mass_kg else "not stated"


def _scales(record: TrialRecord, units: Units) -> Iterator[Block]:
    if not record.scales:
        return
    digits = 1 if units.mass == "kg" else 2
    columns = [
        Column("Scale", width=3),
        Column("Step", "right", 2),
        Column("Repeats within (sd)", "right", 2),
        Column("Greatest error", "right", 2),
        Column("Note", width=3),
    ]
    rows = [
        [
            scale.name,
            show_mass_small(scale.resolution_kg, units, digits),
            _stated(scale.repeatability_kg, units, digits),
            _stated(scale.max_error_kg, units, digits),
            scale.note,
        ]
        for scale in record.scales
    ]
    yield blocks.heading("Scales")
    yield blocks.table(columns, rows)


def _piece_section(finding: Finding, ledger: Solution, piece: Piece, units: Units) -> Section:
    record = finding.record
    section = Section(f"Mass ledger: {piece.name}")
    own = [weighing for weighing in record.weighings if weighing.piece == piece.id]
    section.blocks += _weighings(record, own, units)
    section.blocks += piece_results(finding, ledger, piece, units)
    return section


def piece_results(
    finding: Finding, ledger: Solution, piece: Piece, units: Units
) -> Iterator[Block]:
    """Yield what follows from a piece's weighings and estimates: its parts and its yields."""
    record = finding.record
    estimates = [estimate for estimate in record.estimates if estimate.piece == piece.id]
    if estimates:
        yield blocks.items(
            [
                f"Estimate {e.id}: {e.part.text} {show_mass(e.low_kg, units)} to "
                f"{show_mass(e.high_kg, units)} ({e.shape}). {e.why}"
                for e in estimates
            ]
        )
    rows = [[_named(row.label, piece), row.value, row.note] for row in ledger.rows(piece.id, units)]
    if rows:
        columns = [
            Column("Part", width=3),
            Column("Mass ± half of 95 % interval", "right", 3),
            Column("How known", width=4),
        ]
        yield blocks.table(columns, rows)
    if piece.id in finding.ledger_aside:
        yield blocks.text("Its weighings cannot all be true, so no yield is given.")
        return
    for state in states_of(finding):
        yield from _yields(ledger, piece, state)


def _named(label: str, piece: Piece) -> str:
    """Return the name of a part without the handle of the piece that it stands beside."""
    return label.removesuffix(f" of {piece.id}")


def _weighings(record: TrialRecord, weighings: list[Weighing], units: Units) -> Iterator[Block]:
    if not weighings:
        yield blocks.text("Nothing was weighed.")
        return
    scales = {scale.id: scale.name for scale in record.scales}
    columns = [
        Column("When, or name", width=4),
        Column("Scale", width=3),
        Column("It showed", "right", 3),
        Column("What lay on it", width=5),
    ]
    rows = [
        [
            _when(record, one),
            scales.get(one.scale, one.scale),
            showed(one, units),
            " + ".join(part.text for part in one.sum),
        ]
        for one in weighings
    ]
    yield blocks.table(columns, rows)
    notes = [f"{_when(record, one)}: {one.note}" for one in weighings if one.note]
    if notes:
        yield blocks.items(notes)


def _when(record: TrialRecord, weighing: Weighing) -> str:
    if weighing.at is None:
        return weighing.id
    piece = {one.id: one for one in record.pieces}.get(weighing.piece or "")
    handle = weighing.cook or (piece.cook if piece else None)
    cooks = {cook.id: cook for cook in record.cooks}
    cook = cooks.get(handle or "") or (record.cooks[0] if record.cooks else None)
    return show_moment(weighing.at, time_zone(cook.time_zone)) if cook else weighing.id


def showed(weighing: Weighing, units: Units) -> str:
    """Return what a scale showed, and as it was written where that says it otherwise."""
    own = show_mass(weighing.reading_kg, units)
    written = weighing.written
    return own if not written or _plain(written) == _plain(own) else f"{own} (“{written}”)"


def _plain(mass: str) -> str:
    """Return a written mass without spaces and closing zeros, so that "2.0 oz" is "2 oz"."""
    bare = re.sub(r"\s+", "", mass.lower())
    return re.sub(r"\.(?!\d)", "", re.sub(r"(\.\d*?)0+(?!\d)", r"\1", bare))


def _yields(ledger: Solution, piece: Piece, state: MeatState) -> Iterator[Block]:
    try:
        found = yields_of(ledger, piece.id, state)
    except LedgerError as error:
        yield blocks.text(str(error))
        others = [one for one in LEFT if one is not state and _tellable(ledger, piece, one)]
        if others:
            yield from _yields(ledger, piece, others[0])
        return
    columns = [
        Column(f"Yield of {state} meat as a share of", width=5),
        Column("± half of 95 % interval", "right", 3),
        Column("How known", width=2),
    ]
    yield blocks.table(columns, [[str(one.basis), one.text, str(one.how)] for one in found])
    yield blocks.small(_shares(found[0], piece))


def _tellable(ledger: Solution, piece: Piece, state: MeatState) -> bool:
    try:
        yields_of(ledger, piece.id, state)
    except LedgerError:
        return False
    return True


def _shares(found: Yield, piece: Piece) -> str:
    shares = "; ".join(f"{_named(row.label, piece)} {row.value}" for row in found.source_rows())
    return f"Its uncertainty comes from: {shares}." if shares else ""
