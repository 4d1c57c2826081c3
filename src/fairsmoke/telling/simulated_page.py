"""A simulation as blocks for a page: arms side by side, then what they rest on."""

from collections.abc import Iterator
from typing import Any

from fairsmoke.cooking import UNKNOWNS
from fairsmoke.quantity import METRIC, Units, show_temperature
from fairsmoke.telling import blocks
from fairsmoke.telling.blocks import Block, Column
from fairsmoke.telling.simulated import COMPARED, ROWS, SPLIT, show_change, show_range
from fairsmoke.telling.simulated_data import LEVEL, STANDING, Summary

_MORE_WORDS = {
    "collagen_dissolved": "collagen dissolved (what makes it tender)",
    "log_salmonella": "fewer Salmonella, log10, at the coldest part",
    "log_listeria": "fewer Listeria, log10, at the coldest part",
    "growth_s": "core at 4 to 60 °C, where germs grow",
}


def simulated_page(told: Summary, units: Units = METRIC) -> dict[str, Any]:
    """Return what a page shows of a simulation: its cautions first, then blocks by heading."""
    return {
        "title": told.title,
        "complete": told.complete,
        "standing": f"{STANDING}.",
        "how": _how(told),
        "arms": [arm.name for arm in told.arms],
        "blocks": list(_blocks(told, units)),
    }


def _how(told: Summary) -> str:
    pieces = "1 piece" if len(told.pieces) == 1 else f"{len(told.pieces)} pieces"
    return (
        f"Simulated on {pieces}: nothing was cooked. {told.draws:,} draws of what is not known, "
        f"the same for every arm (seed {told.seed}); in brackets where {100 * LEVEL:.0f} % of them "
        "lie."
    )


def _blocks(told: Summary, units: Units) -> Iterator[Block]:
    yield blocks.table(_columns(told, "Outcome"), list(_outcomes(told, units)))
    if told.differences:
        base = told.arms[0].name
        yield blocks.heading(f"What changes against “{base}”, draw by draw")
        columns = [Column("Change", width=3)]
        columns += [Column(change.name, width=4) for change in told.differences]
        yield blocks.table(columns, list(_differences(told)))
    marks = sorted({core_c for arm in told.arms for core_c in arm.marks_s})
    if marks:
        yield blocks.heading("When the core gets there")
        rows = [
            [
                show_temperature(core_c, units),
                *(
                    show_range(arm.marks_s[core_c], "time", units) if core_c in arm.marks_s else "–"
                    for arm in told.arms
                ),
            ]
            for core_c in marks
        ]
        yield blocks.table(_columns(told, "Core"), rows)
    yield blocks.heading("Where the raw mass goes")
    rows = [
        [label, *(show_range(arm.values[name], "share", units) for arm in told.arms)]
        for name, label in SPLIT
        if name != "in_wrap" or any(arm.values[name].high >= 0.0005 for arm in told.arms)
    ]
    yield blocks.table(_columns(told, "Part"), rows)
    yield blocks.figure("chart", "", _alt(told))
    if len(told.pieces) > 1:
        yield blocks.heading("Piece by piece: time on the cooker; yield")
        yield blocks.table(_columns(told, "Piece"), list(_pieces(told)))
    if told.assumed:
        yield blocks.heading("Taken as given")
        yield blocks.items([f"{text}." for text in told.assumed])
    yield blocks.heading("What is drawn, for nobody knows it")
    yield blocks.items([f"{one.name}: {one.why}" for one in UNKNOWNS])


def _columns(told: Summary, first: str) -> list[Column]:
    return [Column(first, width=3), *(Column(arm.name, width=4) for arm in told.arms)]


def _outcomes(told: Summary, units: Units) -> Iterator[list[str]]:
    for name, label, kind in ROWS:
        shown = [arm.values[name] for arm in told.arms]
        if name == "cap_rendered" and not any(one.known for one in shown):
            continue
        if name == "end_s" and shown == [arm.values["cook_s"] for arm in told.arms]:
            continue
        cells = [show_range(one, kind, units).removesuffix(" in the coldest part") for one in shown]
        yield [_MORE_WORDS.get(name, label), *cells]


def _differences(told: Summary) -> Iterator[list[str]]:
    kinds = {row[0]: (row[1], row[2]) for row in ROWS}
    held = any(one.values["end_s"] != one.values["cook_s"] for one in told.differences)
    for name in COMPARED:
        if name == "end_s" and not held:
            continue
        label, kind = kinds[name]
        found = [change.values[name] for change in told.differences]
        if all(one.middle != one.middle for one in found):
            continue
        cells = ["–" if one.middle != one.middle else show_change(one, kind) for one in found]
        yield [_MORE_WORDS.get(name, label), *cells]


def _pieces(told: Summary) -> Iterator[list[str]]:
    for piece in told.pieces:
        cells = []
        for arm in told.arms:
            values = piece.arms[arm.id]
            time = show_range(values["cook_s"], "time", METRIC)
            cells.append(f"{time}; {show_range(values['yield'], 'share', METRIC)}")
        yield [piece.name, *cells]


def _alt(told: Summary) -> str:
    names = ", ".join(arm.name for arm in told.arms)
    return (
        f"Core temperature over time with its band, when it reaches marks, and where the mass "
        f"goes, of: {names}. The tables have the same numbers."
    )


def cautions_of(told: Summary) -> list[str]:
    """Return what a person must bear in mind about these very cooks, as sentences."""
    return [f"{text}." for text in told.cautions]
