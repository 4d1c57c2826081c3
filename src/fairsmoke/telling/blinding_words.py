"""How blind scores are, in words: the same beside every score in every face."""

from collections.abc import Mapping

from fairsmoke.judging.blinding import Blinding, Knowing, blinding_of
from fairsmoke.messages.message import N_, Listed, Message, Words, in_a_row
from fairsmoke.trial.question import Measure, MeasureKind
from fairsmoke.trial.record import TrialRecord

KNOWING: Mapping[Knowing, Message] = {
    Knowing.BLIND: N_("blind"),
    Knowing.NOT_BLIND: N_("not blind"),
    Knowing.COOK: N_("not blind: the cook scored"),
    Knowing.COOK_BLIND: N_("blind, by the cook too"),
}
"""What a taster knew of one score."""

_SOME: Mapping[Knowing, Message] = {
    Knowing.BLIND: N_("%(count)s blind"),
    Knowing.NOT_BLIND: N_("%(count)s not blind"),
    Knowing.COOK: N_("%(count)s by the cook, not blind"),
    Knowing.COOK_BLIND: N_("%(count)s by the cook, blind"),
}


def knowing_words(counts: Mapping[Knowing, int]) -> Words:
    """Say how blind the scores of one piece are: "blind", "2 not blind, 1 by the cook, not blind".

    Nothing for a piece without scores.
    """
    if not counts:
        return ""
    if len(counts) == 1 and Knowing.COOK not in counts and Knowing.COOK_BLIND not in counts:
        return KNOWING[next(iter(counts))]
    return Listed(
        [
            Message(_SOME[known].text, {"count": counts[known]})
            for known in Knowing
            if known in counts
        ]
    )


def name_with_blinding(record: TrialRecord, measure: Measure) -> Words:
    """Return a measure's name; behind that of a score, how blind its scores are."""
    if measure.kind is not MeasureKind.SCORE:
        return measure.name
    found = blinding_of(record, measure)
    if not found.scores:
        return measure.name
    cooks = found.by_cook
    some = any(one in found.scores for one in (Knowing.BLIND, Knowing.COOK_BLIND))
    short = (
        (N_("blind, the cook scored too") if cooks else N_("blind"))
        if found.blind
        else (N_("partly blind, the cook scored too") if cooks else N_("partly blind"))
        if some
        else (N_("not blind, the cook scored too") if cooks else N_("not blind"))
    )
    return N_("%(measure)s (%(blind)s)", measure=measure.name, blind=short)


def blinding_words(blinding: Blinding) -> Words:
    """Say how blind the scores of a measure were planned and given, in one or two sentences."""
    lines: list[Words] = [_done(blinding)]
    if blinding.by_cook:
        lines.append(N_("The cook scored too."))
    return in_a_row(lines)


def _done(blinding: Blinding) -> Message:
    planned, blind = blinding.planned, blinding.blind
    if not blinding.scores:
        return _PLANNED[planned]
    if blind:
        return (
            N_("Scored blind.")
            if planned is not False
            else N_("Scored blind, though it was not planned so.")
        )
    some = Knowing.BLIND in blinding.scores or Knowing.COOK_BLIND in blinding.scores
    if some:
        return (
            N_("Partly not blind: some tasters knew which was which.")
            if not planned
            else N_("Planned blind, but partly not: some tasters knew which was which.")
        )
    if planned:
        return N_(
            "Planned blind, but not blind: the tasters knew, or nothing shows that they did not."
        )
    return N_("Not blind: the tasters knew which was which, or nothing shows that they did not.")


_PLANNED: Mapping[bool | None, Message] = {
    True: N_("Planned blind."),
    False: N_("Planned not blind."),
    None: N_("Nothing was planned about blind tasting."),
}
