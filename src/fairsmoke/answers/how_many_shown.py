"""How many pairs a trial takes, as plain data for a page: chances as numbers, sizes as texts."""

from typing import Any

from fairsmoke.answers.how_many import Choices, how_many_of_trial, past_findings
from fairsmoke.notebook import Notebook
from fairsmoke.planning.size.how_many import AIM, HowMany, Row
from fairsmoke.telling.how_many import answer, show_cost, unit_of
from fairsmoke.telling.numbers import show_size
from fairsmoke.telling.sentences import one_pair_sentence

_FIRST = "This is one pair. "


def how_many_shown(notebook: Notebook, trial_id: str, choices: Choices) -> dict[str, Any]:
    """Return the table of each measure of a trial, the main one first.

    Raises JobError, PlanError and ComparisonError for what cannot be planned.
    """
    record = notebook.load_trial(trial_id, lazy=True)
    past = past_findings(notebook, trial_id)
    found = how_many_of_trial(record, past, choices)
    return {"measures": [_measure(one) for one in found], "trials": found[0].trials}


def _measure(one: HowMany) -> dict[str, Any]:
    measure = one.measure
    single = one.one_pair
    return {
        "name": measure.name,
        "unit": unit_of(one, 2),
        "worthwhile": show_size(measure, measure.worthwhile),
        "answer": answer(one),
        "enough": one.enough,
        "aim": AIM,
        "sure": one.means.sure,
        "level": one.level,
        "unpriced": list(one.means.prices.unpriced) if one.rows[0].cost is not None else [],
        "settles": "" if single is None or single.settles is None else _size(one, single.settles),
        "one_pair": ""
        if single is None
        else one_pair_sentence(measure, single).removeprefix(_FIRST),
        "own_spreads_from": sorted({learnt.trial for learnt in one.means.learnt}),
        "rows": [_row(one, row) for row in one.rows],
    }


def _row(one: HowMany, row: Row) -> dict[str, Any]:
    chances = row.chances
    return {
        "blocks": row.blocks,
        "pieces": row.pieces,
        "cooks": row.cooks,
        "settled": chances.settled,
        "better": chances.one_is_better,
        "alike": chances.no_difference,
        "misled": row.misled,
        "half": _size(one, row.width / 2),
        "cost": "" if row.cost is None else show_cost(row.cost, one.means.prices.currency),
    }


def _size(one: HowMany, size: float) -> str:
    # Only two digits of it mean anything.
    return show_size(one.measure, float(f"{size:.2g}"))
