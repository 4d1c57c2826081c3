"""Where the mass went: every weighing as a sum, and what follows from them."""

from collections.abc import Iterator, Sequence

from fairsmoke.judging.finding import Finding
from fairsmoke.judging.responses import yield_caution
from fairsmoke.messages.message import (
    N_,
    Listed,
    Message,
    Sentence,
    Words,
    alone,
    in_a_row,
    stretch,
)
from fairsmoke.quantity.values import Instant, Mass, MassAsWritten
from fairsmoke.telling import blocks
from fairsmoke.telling.blocks import Block, Column, Section
from fairsmoke.telling.chart_data import MassBar
from fairsmoke.telling.record_words import MEAT_STATES
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.cook import Piece
from fairsmoke.trial.question import MeasureKind
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.weighing import MEATS, MeatState, PartEstimate, Weighing
from fairsmoke.weighing import LedgerError, Solution, Yield, yields_of
from fairsmoke.weighing.yields import LEFT


def ledger_sections(
    finding: Finding, picture: str | None, bars: Sequence[MassBar]
) -> Iterator[tuple[str, Section]]:
    """Yield the mass ledgers by name: an overview, then each piece; ``picture`` names the chart."""
    record, ledger = finding.record, finding.ledger
    section = Section(N_("Where the mass went"))
    section.blocks += fault_blocks(finding)
    if ledger is None:
        section.blocks += _weighings(record, list(record.weighings))
        yield "ledger", section
        return
    if picture is not None:
        section.blocks.append(blocks.figure(picture, _mass_caption(bars), _mass_alt(finding)))
    rows = [row for piece in record.units for row in yield_rows(finding, piece)]
    section.blocks += [
        blocks.heading(N_("Yields on the one basis that is compared: trimmed raw meat as put on")),
        blocks.table(_YIELD_COLUMNS, rows),
    ]
    section.blocks += _scales(record)
    shared = [weighing for weighing in record.weighings if weighing.piece is None]
    if shared:
        section.blocks += [blocks.heading(N_("Trays")), *_weighings(record, shared)]
    yield "ledger", section
    for piece in record.units:
        yield f"ledger-{piece.id}", _piece_section(finding, ledger, piece)


def fault_blocks(finding: Finding) -> Iterator[Block]:
    """Yield the weighings that cannot all be true, whose yields that takes, and what is open."""
    if finding.ledger_problems:
        yield blocks.heading(N_("Weighings that cannot all be true"))
        yield blocks.items(finding.ledger_problems)
        names = [finding.record.piece(one).name for one in finding.ledger_aside]
        if names:
            yield blocks.strong(
                N_("Until that is mended there is no yield of %(pieces)s.", pieces=Listed(names))
            )
    if finding.ledger is not None and finding.ledger.disagreements:
        yield blocks.heading(N_("Weighings that disagree"))
        yield blocks.items([found.words for found in finding.ledger.disagreements])
    if finding.remarks:
        yield blocks.heading(N_("Not weighed"))
        yield blocks.items([Sentence(line) for line in finding.remarks])


def _mass_caption(bars: Sequence[MassBar]) -> Words:
    rest = N_(
        "What is lost on the cooker is trimmed raw meat less cooked meat; rub and added fat are "
        "not counted in it."
    )
    if all(bar.whole for bar in bars):
        return in_a_row([N_("Where the meat of each piece went, as bought."), rest])
    return in_a_row([N_("Where the meat of each piece went."), rest])


def _mass_alt(finding: Finding) -> Words:
    return N_(
        "Bars that split the raw mass of %(pieces)s into what is left and what each step took.",
        pieces=Listed([piece.name for piece in finding.record.units]),
    )


def _states_of(finding: Finding) -> list[MeatState]:
    """Return the states whose yields are told: those that are measured, else as cooked."""
    measured = [m.state for m in finding.record.trial.measures if m.kind is MeasureKind.YIELD]
    return list(dict.fromkeys(measured)) or [MeatState.COOKED]


_YIELD_COLUMNS = (
    Column(N_("Piece"), width=3),
    Column(N_("Meat"), width=2),
    Column(N_("Yield ± half of 95 % interval"), "right", 3),
    Column(N_("How known"), width=4),
    Column(N_("What its uncertainty comes from"), width=5),
)


def yield_rows(finding: Finding, piece: Piece) -> Iterator[list[Words]]:
    """Yield a row of the table of yields for each state of a piece's meat that is told."""
    for state in _states_of(finding):
        meat = MEAT_STATES[state]
        try:
            found = _yields_if_sound(finding, piece, state)[0]
        except LedgerError as error:
            yield [piece.name, meat, N_("not known"), "–", error.message]
            continue
        shares = _sources(found, 3)
        yield [piece.name, meat, found.number, yield_caution(found) or found.how.words, shares]


def _sources(found: Yield, most: int | None = None) -> Words:
    rows = found.source_rows()[:most]
    return Listed([in_a_row([row.label, row.value]) for row in rows], between="; ")


def _yields_if_sound(finding: Finding, piece: Piece, state: MeatState) -> tuple[Yield, ...]:
    if finding.ledger is None or piece.id in finding.ledger_aside:
        raise LedgerError(N_("its weighings cannot all be true; see above"), pieces=(piece.id,))
    return yields_of(finding.ledger, piece.id, state)


def _scales(record: TrialRecord) -> Iterator[Block]:
    if not record.scales:
        return
    columns = [
        Column(N_("Scale"), width=3),
        Column(N_("Step"), "right", 2),
        Column(N_("Repeats within (sd)"), "right", 2),
        Column(N_("Greatest error"), "right", 2),
        Column(N_("Note"), width=3),
    ]
    rows: list[list[Words]] = [
        [
            scale.name,
            alone(Mass(scale.resolution_kg, 1, small=True)),
            *(
                alone(Mass(mass, 1, small=True)) if mass else N_("not stated")
                for mass in (scale.repeatability_kg, scale.max_error_kg)
            ),
            scale.note,
        ]
        for scale in record.scales
    ]
    yield blocks.heading(N_("Scales"))
    yield blocks.table(columns, rows)


def _piece_section(finding: Finding, ledger: Solution, piece: Piece) -> Section:
    section = Section(N_("Mass ledger: %(piece)s", piece=piece.name))
    own = [weighing for weighing in finding.record.weighings if weighing.piece == piece.id]
    section.blocks += _weighings(finding.record, own)
    section.blocks += piece_results(finding, ledger, piece)
    return section


def piece_results(finding: Finding, ledger: Solution, piece: Piece) -> Iterator[Block]:
    """Yield what follows from a piece's weighings and estimates: its parts and its yields."""
    estimates = [one for one in finding.record.estimates if one.piece == piece.id]
    if estimates:
        yield blocks.items([_estimate(one) for one in estimates])
    rows = [[row.label, row.value, row.note] for row in ledger.rows(piece.id)]
    if rows:
        columns = [
            Column(N_("Part"), width=3),
            Column(N_("Mass ± half of 95 % interval"), "right", 3),
            Column(N_("How known"), width=4),
        ]
        yield blocks.table(columns, rows)
    if piece.id in finding.ledger_aside:
        yield blocks.text(N_("Its weighings cannot all be true, so no yield is given."))
        return
    for state in _states_of(finding):
        yield from _yields(ledger, piece, state)


_SHAPES = {
    "rectangular": N_("rectangular"),
    "triangular": N_("triangular"),
    "normal": N_("normal"),
}


def _estimate(one: PartEstimate) -> Words:
    return N_(
        "Estimate %(id)s: %(part)s %(between)s (%(shape)s). %(why)s",
        id=one.id,
        part=one.part.words,
        between=stretch(Mass(one.low_kg), Mass(one.high_kg)),
        shape=_SHAPES[one.shape],
        why=one.why,
    )


def _weighings(record: TrialRecord, weighings: list[Weighing]) -> Iterator[Block]:
    if not weighings:
        yield blocks.text(N_("Nothing was weighed."))
        return
    scales = {scale.id: scale.name for scale in record.scales}
    columns = [
        Column(N_("When, or name"), width=4),
        Column(N_("Scale"), width=3),
        Column(N_("It showed"), "right", 3),
        Column(N_("What lay on it"), width=5),
    ]
    rows = [
        [
            _when(record, one),
            scales.get(one.scale, one.scale),
            showed(one),
            Listed([part.words for part in one.sum], between=" + "),
        ]
        for one in weighings
    ]
    yield blocks.table(columns, rows)
    notes = [in_a_row([_when(record, one), one.note], ": ") for one in weighings if one.note]
    if notes:
        yield blocks.items(notes)


def _when(record: TrialRecord, weighing: Weighing) -> Words:
    if weighing.at is None:
        return weighing.id
    piece = {one.id: one for one in record.pieces}.get(weighing.piece or "")
    handle = weighing.cook or (piece.cook if piece else None)
    cooks = {cook.id: cook for cook in record.cooks}
    cook = cooks.get(handle or "") or (record.cooks[0] if record.cooks else None)
    return alone(Instant(weighing.at, zone=time_zone(cook.time_zone))) if cook else weighing.id


def showed(weighing: Weighing) -> Message:
    """Return what a scale showed, and as it was written where that says it otherwise."""
    return alone(MassAsWritten(weighing.reading_kg, weighing.written))


def _yields(ledger: Solution, piece: Piece, state: MeatState) -> Iterator[Block]:
    try:
        found = yields_of(ledger, piece.id, state)
    except LedgerError as error:
        yield blocks.text(error.message)
        others = [one for one in LEFT if one is not state and _tellable(ledger, piece, one)]
        if others:
            yield from _yields(ledger, piece, others[0])
        return
    columns = [
        Column(N_("Yield of %(meat)s as a share of", meat=MEATS[state]), width=5),
        Column(N_("± half of 95 % interval"), "right", 3),
        Column(N_("How known"), width=2),
    ]
    yield blocks.table(columns, [[one.basis.words, one.words, one.how.words] for one in found])
    if found[0].sources:
        yield blocks.small(
            N_("Its uncertainty comes from: %(sources)s.", sources=_sources(found[0]))
        )


def _tellable(ledger: Solution, piece: Piece, state: MeatState) -> bool:
    try:
        yields_of(ledger, piece.id, state)
    except LedgerError:
        return False
    return True
