"""How the answer was worked out, and how a reader can check it."""

from fairsmoke.judging.finding import Finding
from fairsmoke.messages.message import N_, OnFace, Words
from fairsmoke.telling import blocks
from fairsmoke.telling.blocks import Section

_METHODS = (
    N_(
        "The model. Each value is the level of its arm plus what its cook, its animal, the whole "
        "piece that it was cut from, its place in the cooker and the piece itself add, plus the "
        "error of measuring it. How far each of these spreads is not known, so the answer averages "
        "over all spreads that the record and the earlier beliefs allow, by numerical integration; "
        "nothing is drawn at random in it. Times are compared as ratios and shown as minutes."
    ),
    N_(
        "The verdict comes from the chances that the difference is larger than what would matter, "
        "either way, or smaller, and from how sure the trial asked to be. However often one looks, "
        "these chances stay what they are as far as pieces differ as believed; where they differ "
        "more, a verdict that is looked for after every cook errs more often than one look does, "
        "and the e-value beside it is for that."
    ),
    N_(
        "Beside the model stand classical answers: the re-randomisation test, which uses nothing "
        "but the draw that was really made; the paired t interval; and, where pairs do not say it "
        "all, a mixed model fitted by REML with the degrees of freedom of Kenward and Roger "
        "(1997). Where they differ from the model, the model's earlier beliefs are at work."
    ),
    N_(
        "The mass ledger treats each weighing as the sum of what lay on the scale and solves for "
        "the parts. Uncertainty follows JCGM 100:2008 (the GUM), with draws as in JCGM 101:2008 "
        "where a result is not a plain sum; what was never weighed has an interval instead of a "
        "value."
    ),
    N_(
        "Readings that show an open probe, a value that does not move, a jump that meat cannot "
        "make, or a second value for one moment are kept and shown but not believed."
    ),
)


def methods_section(finding: Finding) -> Section:
    """Return how the answer was worked out, and what was believed before the trial."""
    section = Section(N_("How it was worked out"))
    section.blocks.append(blocks.items(_METHODS))
    for found in finding.measures:
        if found.prior_lines:
            section.blocks += [
                blocks.heading(
                    N_("Believed before the trial: %(measure)s", measure=found.measure.name)
                ),
                blocks.items(found.prior_lines),
            ]
    return section


def check_section(finding: Finding) -> Section:
    """Return how a reader can work the whole finding out again."""
    registration = finding.record.registration
    lines: list[Words] = [
        N_(
            "Ask for the exported folder of this trial: plain YAML and CSV files with every "
            "reading, weighing, ballot and event as it was recorded, corrections included."
        ),
        N_(
            "Take the folder into a notebook of your own and judge the trial again: the same "
            "record gives the same numbers, on any machine."
        ),
    ]
    if registration is not None:
        lines.append(
            N_(
                "Take the SHA-256 digest of registered-plan.json in that folder (sha256sum shows "
                "it): it must be %(digest)s, or the plan is not the one that was registered.",
                digest=registration.digest,
            )
        )
    if any(one.without_past is not None for found in finding.measures for one in found.differences):
        lines.append(
            N_(
                "What earlier trials of the notebook taught is part of these numbers: take those "
                "trials along, or judge without them%(how)s, which gives the ones that stand "
                "beside as “without this notebook's past”.",
                how=OnFace(" (--no-past)", ""),
            )
        )
    lines.append(
        N_(
            "Every weighing stands in this report as a sum, so that a yield can be checked with "
            "pencil and paper."
        )
    )
    section = Section(N_("How to check this"))
    section.blocks.append(blocks.items(lines))
    return section
