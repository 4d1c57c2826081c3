"""What a notebook or a trial holds, and what is still missing, as data and on the screen."""

from collections.abc import Callable
from typing import Any

from fairsmoke.cli.screen import out, said, say, table
from fairsmoke.messages.message import N_, NN_, Message
from fairsmoke.notebook import Notebook
from fairsmoke.quantity import show_duration
from fairsmoke.trial.clock import instant_of_ms, show_instant, time_zone
from fairsmoke.trial.cook import Cooker, EventKind
from fairsmoke.trial.record import TrialRecord


def notebook_overview(book: Notebook) -> dict[str, Any]:
    """Return the trials of a notebook with what has been recorded of each."""
    kitchen = book.kitchen
    return {
        "notebook": str(book.path),
        "kitchen": kitchen.name,
        "invented": kitchen.invented,
        "time_zone": kitchen.time_zone,
        "units": kitchen.units,
        "cookers": [cooker.name for cooker in book.list(Cooker)],
        "trials": [_trial_line(book, trial.id) for trial in book.trials()],
    }


def _trial_line(book: Notebook, handle: str) -> dict[str, Any]:
    record = book.load_trial(handle, lazy=True)
    return {
        "trial": handle,
        "title": record.trial.title,
        "invented": record.trial.invented,
        "registered": record.registration is not None,
        "arms": [arm.name for arm in record.trial.arms],
        "cooks": len(record.cooks),
        "pieces": len(record.units),
        "weighings": len(record.weighings),
        "readings": sum(span.n for span in book.spans(handle)),
    }


def trial_overview(book: Notebook, handle: str) -> dict[str, Any]:
    """Return one trial: its question, its pieces with what happened to each, and its readings."""
    record = book.load_trial(handle, lazy=True)
    return {
        "trial": handle,
        "title": record.trial.title,
        "question": record.trial.question,
        "invented": record.trial.invented,
        "registered": record.registration is not None,
        "measures": [measure.name for measure in record.trial.measures],
        "pieces": [_piece_line(record, piece.id) for piece in record.units],
        "readings": [
            {
                "cook": span.cook,
                "probe": span.probe,
                "source": span.source,
                "count": span.n,
                "from": instant_of_ms(span.start_ms).isoformat(),
                "to": instant_of_ms(span.end_ms).isoformat(),
            }
            for span in book.spans(handle)
        ],
        "problems": record.problems(),
        "remarks": [str(one) for one in record.remarks()],
    }


def _piece_line(record: TrialRecord, handle: str) -> dict[str, Any]:
    piece = record.piece(handle)
    cook = record.cook(piece.cook or "")
    zone = time_zone(cook.time_zone)
    on, off = record.events_of(handle, EventKind.ON), record.events_of(handle, EventKind.PULL)
    lasted = (off[-1].at - on[0].at).total_seconds() if on and off else None
    return {
        "piece": handle,
        "name": piece.name,
        "arm": piece.arm,
        "cook": cook.id,
        "position": piece.spot.text if piece.spot else None,
        "on": show_instant(on[0].at, zone) if on else None,
        "off": show_instant(off[-1].at, zone) if off else None,
        "cook_s": lasted,
        "weighings": sum(weighing.piece == handle for weighing in record.weighings),
    }


def print_notebook(content: dict[str, Any]) -> None:
    """Print the overview of a notebook."""
    invented = content["invented"] and "invented" not in content["kitchen"]
    name = N_("%(name)s (invented)", name=content["kitchen"]) if invented else content["kitchen"]
    say(f"{said(name)}, {content['time_zone']}")
    if not content["trials"]:
        say(N_("No trial yet. Next: fairsmoke read FOLDER"))
        return
    for line in content["trials"]:
        counts = ", ".join(said(count(line[key])) for key, count in _COUNTED.items())
        plan = said(N_("registered") if line["registered"] else N_("exploratory"))
        say(f"\n{line['trial']}: {line['title']}")
        say(f"  {' / '.join(line['arms'])}")
        say(f"  {counts}; {plan}")
    first = content["trials"][0]["trial"]
    say(
        N_(
            "\nOne trial: fairsmoke show %(first)s -n %(notebook)s",
            first=first,
            notebook=content["notebook"],
        )
    )
    say(
        N_(
            "What it found: fairsmoke judge %(first)s -n %(notebook)s",
            first=first,
            notebook=content["notebook"],
        )
    )


def _cooks(count: int) -> Message:
    return NN_("%(count)s cook", "%(count)s cooks", count)


def _readings(count: int) -> Message:
    return NN_("%(count)s reading", "%(count)s readings", count)


_COUNTED: dict[str, Callable[[int], Message]] = {
    "cooks": _cooks,
    "pieces": lambda count: NN_("%(count)s piece", "%(count)s pieces", count),
    "weighings": lambda count: NN_("%(count)s weighing", "%(count)s weighings", count),
    "readings": _readings,
}


def print_trial(content: dict[str, Any]) -> None:
    """Print the overview of a trial."""
    title = content["title"]
    say(N_("%(name)s (invented)", name=title) if content["invented"] else title)
    say(f"{content['question']}\n")
    shown = table(N_("piece"), N_("arm"), N_("stood"), N_("on"), N_("off"), N_("lasted"))
    for line in content["pieces"]:
        lasted = line["cook_s"]
        shown.add_row(
            line["piece"],
            line["arm"],
            line["position"] or said(N_("not known")),
            _short(line["on"]),
            _short(line["off"]),
            "" if lasted is None else show_duration(60 * round(lasted / 60)),
        )
    out.print(shown)
    total = sum(line["count"] for line in content["readings"])
    cooks = len({line["cook"] for line in content["readings"]})
    say(N_("\n%(readings)s in %(cooks)s.", readings=_readings(total), cooks=_cooks(cooks)))
    for problem in content["problems"]:
        say(N_("To mend: %(problem)s", problem=problem))
    for remark in content["remarks"]:
        say(N_("Note: %(remark)s", remark=remark))


def _short(moment: str | None) -> str:
    """Drop year and offset: "05-02 19:05"; JSON has the whole."""
    return said(N_("not yet")) if moment is None else moment[5:16]
