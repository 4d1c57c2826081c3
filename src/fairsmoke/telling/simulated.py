"""A simulation of arms side by side as sections, and as JSON: what is expected, and how sure."""

from collections.abc import Iterator, Sequence
from typing import Any, Literal

from fairsmoke.cooking import UNKNOWNS
from fairsmoke.messages.message import N_, NN_, Listed, Message, Words
from fairsmoke.planning.methods.simulated import (
    COME_UP_C,
    GUIDELINE_LOG,
    HOLD_CODE_C,
    LEVEL,
    LONGEST_COME_UP_S,
    LOWEST_TABLED_C,
    ArmSummary,
    DrawInterval,
    SimulationSummary,
)
from fairsmoke.quantity.values import Duration, Number, Share, Temperature
from fairsmoke.telling import blocks, simulator_words
from fairsmoke.telling.as_json import plain
from fairsmoke.telling.blocks import Block, Column, Section
from fairsmoke.telling.draw_words import Kind, alone, change_words, interval_words
from fairsmoke.telling.simulator_words import STANDING

FORM = 1
"""Raised when a key of the JSON changes its meaning or goes away."""

ROWS: tuple[tuple[str, Message, Kind], ...] = (
    ("cook_s", N_("time on the cooker"), "time"),
    ("end_s", N_("time to the end"), "time"),
    ("core_end_c", N_("core at the end"), "temperature"),
    ("yield", N_("yield"), "share"),
    ("collagen_dissolved", N_("collagen dissolved"), "share"),
    ("cap_rendered", N_("fat cap rendered"), "share"),
    ("log_salmonella", N_("fewer Salmonella, log10"), "log"),
    ("log_listeria", N_("fewer Listeria, log10"), "log"),
    (
        "growth_s",
        N_("core at %(low)s to %(high)s", low=Temperature(4.0), high=Temperature(60.0)),
        "time",
    ),
)
COMPARED = ("cook_s", "end_s", "yield", "collagen_dissolved", "cap_rendered")
SPLIT: tuple[tuple[str, Message], ...] = (
    ("yield", N_("kept")),
    ("in_wrap", N_("juice in the wrap")),
    ("dripped", N_("dripped")),
    ("rendered", N_("fat run off")),
    ("evaporated", N_("evaporated")),
)
"""Where the raw mass ends; the parts add up to it."""
_IN_WRAP = (("in_wrap", SPLIT[1][1]), ("fat_in_wrap", N_("fat in the wrap")))
_LEAST_SHARE = 0.0005


def simulated_sections(told: SimulationSummary) -> list[Section]:
    """Return the simulation as it is told: what changes and what is expected, then what it is of.

    How far the model is off, and what is wrong with these very cooks, stand before any number.
    """
    warnings = [line for arm in told.arms for line in arm_warnings(arm)]
    first = [blocks.strong(STANDING), *([blocks.items(warnings)] if warnings else [])]
    first.append(blocks.text(_how(told)))
    if told.differences:
        first += _differences(told)
    first += [blocks.heading(N_("What to expect")), _outcomes(told)]
    first.append(blocks.small(N_("Salmonella and Listeria: in the coldest part.")))
    rest = [blocks.figure("chart", "", _alt(told)), *_marks(told)]
    rest += [blocks.heading(N_("Where the raw mass goes")), _split(told)]
    if len(told.pieces) > 1:
        rest.append(blocks.heading(N_("Piece by piece: time on the cooker; yield")))
        rest.append(_table(N_("Piece"), told.arms, _pieces(told)))
    rests_on = [blocks.items([*general_cautions(told), *_assumed(told)])]
    return [
        Section(told.title, first),
        Section(N_("Times and mass"), rest),
        Section(N_("Cautions, and what it rests on"), rests_on),
    ]


def _how(told: SimulationSummary) -> Message:
    return N_(
        "Simulated, nothing was cooked: %(arms)s on %(pieces)s, %(draws)s draws of what nobody "
        "knows, the same for every arm (seed %(seed)s). In brackets: where %(level)s of the draws "
        "lie.",
        arms=NN_("%(count)s arm", "%(count)s arms", len(told.arms)),
        pieces=NN_("%(count)s piece", "%(count)s pieces", len(told.pieces)),
        draws=told.draws,
        seed=str(told.seed),
        level=Share(LEVEL, 0),
    )


def _table(first: Message, columns: Sequence[Any], rows: Sequence[Sequence[Words]]) -> Block:
    heads = [Column(first, width=3), *(Column(one.name, width=4) for one in columns)]
    return blocks.table(heads, rows, by_column=True)


def _differences(told: SimulationSummary) -> list[Block]:
    ended = [(arm.values["end_s"], arm.values["cook_s"]) for arm in told.arms]
    rows = []
    for name, label, kind in ROWS:
        found = [change.values[name] for change in told.differences]
        if name not in COMPARED or all(one.middle != one.middle for one in found):
            continue
        if name == "end_s" and all(end == cook for end, cook in ended):
            continue
        # Only times and shares are compared.
        compared: Literal["time", "share"] = "time" if kind == "time" else "share"
        rows.append(
            [
                label,
                *(
                    "–" if one.middle != one.middle else change_words(one, compared)
                    for one in found
                ),
            ]
        )
    heading = N_("What changes against “%(base)s”, draw by draw", base=told.arms[0].name)
    return [blocks.heading(heading), _table(N_("What changes"), told.differences, rows)]


def _outcomes(told: SimulationSummary) -> Block:
    rows = []
    for name, label, kind in ROWS:
        shown = [arm.values[name] for arm in told.arms]
        if name == "cap_rendered" and not any(one.known for one in shown):
            continue
        if name == "end_s" and shown == [arm.values["cook_s"] for arm in told.arms]:
            continue
        rows.append([label, *(interval_words(one, kind) for one in shown)])
    return _table(N_("Outcome"), told.arms, rows)


def _marks(told: SimulationSummary) -> Iterator[Block]:
    marks = sorted({core_c for arm in told.arms for core_c in arm.marks_s})
    if not marks:
        return
    yield blocks.heading(N_("When the core gets there"))
    rows = [
        [
            alone(Temperature(core_c)),
            *(
                interval_words(arm.marks_s[core_c], "time") if core_c in arm.marks_s else "–"
                for arm in told.arms
            ),
        ]
        for core_c in marks
    ]
    yield _table(N_("Core"), told.arms, rows)


def _split(told: SimulationSummary) -> Block:
    # Fat in a wrap is of fat run off and fat added: beside the parts, not one of them.
    rows = [
        [label, *(_part(arm.values[name]) for arm in told.arms)]
        for name, label in (*SPLIT, _IN_WRAP[1])
        if name not in dict(_IN_WRAP)
        or any(arm.values[name].high >= _LEAST_SHARE for arm in told.arms)
    ]
    return _table(N_("Part of the raw mass"), told.arms, rows)


def _part(share: DrawInterval) -> Words:
    return "–" if share.high < _LEAST_SHARE else interval_words(share, "share")


def _pieces(told: SimulationSummary) -> list[list[Words]]:
    rows: list[list[Words]] = []
    for piece in told.pieces:
        row: list[Words] = [piece.name]
        for arm in told.arms:
            values = piece.arms[arm.id]
            row.append(
                N_(
                    "%(time)s; %(yield_)s",
                    time=interval_words(values["cook_s"], "time"),
                    yield_=interval_words(values["yield"], "share"),
                )
            )
        rows.append(row)
    return rows


def _alt(told: SimulationSummary) -> Message:
    return N_(
        "Core temperature over time with its band, when it reaches marks, and where the mass goes, "
        "of: %(arms)s. The tables have the same numbers.",
        arms=Listed([arm.name for arm in told.arms]),
    )


def _assumed(told: SimulationSummary) -> list[Message]:
    taken = [N_("Taken as given: %(what)s.", what=what) for what in told.assumed]
    drawn = Listed([simulator_words.UNKNOWNS.get(one.name, one.name) for one in UNKNOWNS], "and")
    return [
        *taken,
        N_(
            "Drawn, for nobody knows it: %(what)s. How far each may be off, and why, is with the "
            "numbers for other programs.",
            what=drawn,
        ),
    ]


def arm_warnings(arm: ArmSummary) -> Iterator[Message]:
    """Yield what a person must bear in mind about the very cooks of an arm."""
    found, name = arm.warnings, arm.name
    if found.never_ended:
        yield N_(
            "%(arm)s: %(left)s of %(cooks)s cooks never came to the end of their protocol and are "
            "left out, so times lean to the short side.",
            arm=name,
            left=found.never_ended,
            cooks=found.cooks,
        )
    if found.not_worked_out:
        yield N_(
            "%(arm)s: the solver gave up on %(left)s of %(cooks)s cooks, which are left out; that "
            "is a fault of ours.",
            arm=name,
            left=found.not_worked_out,
            cooks=found.cooks,
        )
    if found.few_log:
        yield N_(
            "%(arm)s: the coldest part may get fewer than %(log)s log10 of Salmonella, which the "
            "published cooking guideline for beef asks for.",
            arm=name,
            log=Number(GUIDELINE_LOG),
        )
    if found.below_table:
        yield N_(
            "%(arm)s: may end below %(core)s, where that guideline begins.",
            arm=name,
            core=Temperature(LOWEST_TABLED_C, 1),
        )
    if found.slow_come_up:
        yield N_(
            "%(arm)s: the core may take more than %(long)s from %(low)s to %(high)s, the longest "
            "that the guideline gives for slow heating.",
            arm=name,
            long=Duration(LONGEST_COME_UP_S),
            low=Temperature(COME_UP_C[0]),
            high=Temperature(COME_UP_C[1]),
        )
    for stage in found.hot_film:
        yield N_(
            "%(arm)s, stage '%(stage)s': film in air of %(air)s; look up its rated temperature and "
            "keep it from direct heat.",
            arm=name,
            stage=stage.id,
            air=Temperature(stage.surround_c or 0.0),
        )
    for stage in found.cool_hold:
        yield N_(
            "%(arm)s, stage '%(stage)s': holds at %(air)s, below the %(least)s of the Food Code.",
            arm=name,
            stage=stage.id,
            air=Temperature(stage.surround_c or 0.0),
            least=Temperature(HOLD_CODE_C),
        )


def general_cautions(told: SimulationSummary) -> Iterator[Message]:
    """Yield what holds for every simulation. Nothing here says safe."""
    if not told.whole_body:
        yield N_(
            "Quick: one column through the thick part. Edges and thin ends are not in it, so a "
            "piece keeps less than it says here."
        )
    yield N_(
        "A model's numbers, not a record: they never show that food is safe. Cook, hold and cool "
        "by your local code and your food authority's tables, with a thermometer."
    )
    yield N_(
        "Intervals cover what the model leaves open, not what it leaves out (docs/limits.md); how "
        "far it was off in published cooks stands in docs/validation.md."
    )


def sentences(lines: Sequence[Message]) -> list[str]:
    """Return messages in English as the JSON has them: without the full stop at their end."""
    return [str(line).removesuffix(".") for line in lines]


def simulated_json(told: SimulationSummary) -> dict[str, Any]:
    """Return the simulation as dictionaries, lists, numbers, text and None.

    Times in s, temperatures in °C, shares of the raw mass, log10 reductions as worked out. A share
    that no draw has is None.
    """
    cautions = [line for arm in told.arms for line in arm_warnings(arm)]
    return {
        "form": FORM,
        "simulated": True,
        "title": str(told.title),
        "complete": told.complete,
        "cooks": told.cooks,
        "cooks_done": told.cooks_done,
        "draws": told.draws,
        "seed": told.seed,
        "whole_body": told.whole_body,
        "level": LEVEL,
        "arms": [_arm_json(arm) for arm in told.arms],
        "base": told.arms[0].id,
        "differences": [
            {"arm": one.arm, "base": told.arms[0].id, "values": plain(one.values)}
            for one in told.differences
        ],
        "pieces": plain(told.pieces),
        "not_known": not_known_json(),
        "assumed": [str(what) for what in told.assumed],
        "cautions": sentences([STANDING, *cautions, *general_cautions(told)]),
    }


def not_known_json() -> list[dict[str, Any]]:
    """Return what the simulator draws as plain data."""
    return [
        {"name": u.name, "sd": u.standard_deviation, "of_logarithm": u.logarithmic, "why": u.why}
        for u in UNKNOWNS
    ]


def _arm_json(arm: ArmSummary) -> dict[str, Any]:
    low, middle, high = arm.band_c if arm.band_c.size else ([], [], [])
    return {
        "id": arm.id,
        "name": str(arm.name),
        "values": plain(arm.values),
        "marks": [{"core_c": c, **plain(when)} for c, when in arm.marks_s.items()],
        "stages": [{"id": stage, **plain(end)} for stage, end in arm.stages_s.items()],
        "core": {
            "hours": plain(arm.band_hours),
            "low_c": plain(list(low)),
            "middle_c": plain(list(middle)),
            "high_c": plain(list(high)),
        },
        "never_ended": arm.warnings.never_ended,
        "not_worked_out": arm.warnings.not_worked_out,
    }
