"""What a finding says of its registered plan: frozen when, amended how, and what differs."""

from collections.abc import Iterator
from datetime import UTC

from fairsmoke.judging.finding import Finding
from fairsmoke.telling.blocks import Block, facts, heading, items
from fairsmoke.telling.numbers import show_moment
from fairsmoke.telling.sentences import counted
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.plan import Layout
from fairsmoke.trial.record import TrialRecord


def untold_lines(finding: Finding) -> Iterator[str]:
    """Yield in one line that something differs from the plan and no amendment says so."""
    late = [one for one in finding.untold if one.about == "late"]
    others = [one for one in finding.untold if one.about != "late"]
    yield from (one.sentence for one in late)
    if len(others) == 1:
        yield f"Not as registered, and no amendment says so: {others[0].sentence}"
    elif others:
        yield (
            f"{len(others)} things are not as registered, and no amendment says so; they stand "
            "under “Registration”."
        )


def registration_blocks(finding: Finding) -> Iterator[Block]:
    """Yield the part of the report on the registered plan; nothing where there is none."""
    registration = finding.record.registration
    if registration is None:
        return
    record = finding.record
    zone = time_zone(record.cooks[0].time_zone) if record.cooks else UTC
    lines = [
        f"The plan was frozen on {show_moment(registration.at, zone)} with the SHA-256 digest "
        f"{registration.digest}."
    ]
    lines += [
        f"Amended {show_moment(change.at, zone)}: {change.what} Why: {change.why}"
        for change in registration.amendments
    ]
    lines += [
        f"Not as registered{', as amended' if one.told else ''}: {one.sentence}"
        for one in finding.deviations
    ]
    if not finding.deviations:
        lines.append("Nothing was found that was done otherwise than registered.")
    yield heading("Registration")
    yield items(lines)


def layout_blocks(record: TrialRecord) -> Iterator[Block]:
    """Yield how the layout was drawn and what it keeps apart; nothing where none was."""
    layout = record.plan.layout if record.plan is not None else None
    if layout is not None:
        yield heading("Layout")
        yield facts(
            [
                ("Kind", str(layout.kind)),
                ("Keeps apart", layout.free),
                ("Drawn by", _drawn_by(layout)),
            ]
        )


def _drawn_by(layout: Layout) -> str:
    times = ""
    if layout.drawn_before:
        times = f"; {counted(layout.drawn_before, 'earlier draw')} thrown away"
    return f"{layout.algorithm}, seed {layout.seed}{times}"
