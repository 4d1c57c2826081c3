"""What a finding says of its registered plan: frozen when, amended how, and what differs."""

from collections.abc import Iterator

from fairsmoke.judging.finding import Finding
from fairsmoke.messages.message import N_, NN_, Words, in_a_row
from fairsmoke.quantity.values import Instant
from fairsmoke.telling.blocks import Block, facts, heading, items
from fairsmoke.trial.clock import time_zone
from fairsmoke.trial.plan import LAYOUT_NAMES, Layout
from fairsmoke.trial.record import TrialRecord


def untold_lines(finding: Finding) -> Iterator[Words]:
    """Yield in one line that something differs from the plan and no amendment says so."""
    late = [one for one in finding.untold if one.about == "late"]
    others = [one for one in finding.untold if one.about != "late"]
    yield from (one.sentence for one in late)
    if len(others) == 1:
        yield N_("Not as registered, and no amendment says so: %(what)s", what=others[0].sentence)
    elif others:
        yield N_(
            "%(count)s things are not as registered, and no amendment says so; they stand under "
            "“Registration”.",
            count=len(others),
        )


def registration_blocks(finding: Finding) -> Iterator[Block]:
    """Yield the part on the registered plan; nothing where there is none."""
    registration = finding.record.registration
    if registration is None:
        return
    record = finding.record
    zone = time_zone(record.cooks[0].time_zone) if record.cooks else None
    lines: list[Words] = [
        N_(
            "The plan was frozen on %(when)s with the SHA-256 digest %(digest)s.",
            when=Instant(registration.at, zone=zone),
            digest=registration.digest,
        )
    ]
    lines += [
        N_(
            "Amended %(when)s: %(what)s Why: %(why)s",
            when=Instant(change.at, zone=zone),
            what=change.what,
            why=change.why,
        )
        for change in registration.amendments
    ]
    lines += [
        N_("Not as registered, as amended: %(what)s", what=one.sentence)
        if one.told
        else N_("Not as registered: %(what)s", what=one.sentence)
        for one in finding.deviations
    ]
    if not finding.deviations:
        lines.append(N_("Nothing was found that was done otherwise than registered."))
    yield heading(N_("Registration"))
    yield items(lines)


def layout_blocks(record: TrialRecord) -> Iterator[Block]:
    """Yield how the layout was drawn and what it keeps apart; nothing where none was."""
    layout = record.plan.layout if record.plan is not None else None
    if layout is not None:
        yield heading(N_("Layout"))
        yield facts(
            [
                (N_("Kind"), LAYOUT_NAMES[layout.kind]),
                (N_("Keeps apart"), layout.free),
                (N_("Drawn by"), _drawn_by(layout)),
            ]
        )


def _drawn_by(layout: Layout) -> Words:
    drawn = N_("%(algorithm)s, seed %(seed)s", algorithm=layout.algorithm, seed=str(layout.seed))
    if not layout.drawn_before:
        return drawn
    thrown = NN_(
        "%(count)s earlier draw thrown away",
        "%(count)s earlier draws thrown away",
        layout.drawn_before,
    )
    return in_a_row([drawn, thrown], "; ")
