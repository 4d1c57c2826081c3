"""What was recorded and the judging did not use, with the reason."""

from fairsmoke.judging.finding import LeftOut, MeasureFinding
from fairsmoke.judging.traces import flag_counts
from fairsmoke.messages.message import N_, Listed, in_a_row
from fairsmoke.trial.probe import MEASURED
from fairsmoke.trial.reading import NOT_BELIEVED, Flag
from fairsmoke.trial.record import TrialRecord


def left_out_of(record: TrialRecord, measures: tuple[MeasureFinding, ...]) -> list[LeftOut]:
    """List what was recorded and not used: rows, readings, pieces and missing values."""
    names = {piece.id: piece.name for piece in record.pieces}
    found = [
        LeftOut(
            N_("rows of %(file)s", file=source.file_name),
            source.rows_bad,
            source.rows_read,
            N_("unreadable"),
        )
        for source in record.sources
        if source.rows_bad
    ]
    found += _not_believed(record)
    for exclusion in record.exclusions:
        if exclusion.piece is not None:
            what = in_a_row([names[exclusion.piece], exclusion.measure or ""], ", ")
            found.append(LeftOut(what, 1, None, exclusion.why))
    for measure in measures:
        for row in measure.responses.rows:
            if row.value is None and not row.excluded and not row.censored:
                name = N_(
                    "%(measure)s of %(piece)s",
                    measure=measure.measure.name,
                    piece=names[row.piece],
                )
                found.append(LeftOut(name, 1, None, row.note))
    return found


def _not_believed(record: TrialRecord) -> list[LeftOut]:
    """One line for each cook, kind of reading and reason, whichever probes it concerns."""
    totals: dict[tuple[str, str, Flag], tuple[int, int, dict[str, None]]] = {}
    for count in flag_counts(record):
        if count.flag & NOT_BELIEVED:
            key = (count.cook, count.measures, count.flag)
            many, of, probes = totals.get(key, (0, 0, {}))
            totals[key] = (many + count.count, of + count.of, {**probes, count.probe: None})
    cooks = {cook.id: cook.name for cook in record.cooks}
    named = {probe.id: probe.name for probe in record.probes}
    return [
        LeftOut(
            N_(
                "%(measured)s readings, %(cook)s (%(probes)s)",
                measured=MEASURED.get(measures, measures),
                cook=cooks[cook],
                probes=Listed([named[p] for p in probes]),
            ),
            many,
            of,
            _FLAG_WORDS[flag],
        )
        for (cook, measures, flag), (many, of, probes) in totals.items()
    ]


_FLAG_WORDS = {
    Flag.STUCK: N_("did not move for so long that the probe or logger must have been frozen"),
    Flag.OPEN_PROBE: N_("the value that loggers write for an unplugged probe"),
    Flag.JUMP: N_("moved faster than meat or air can: out of the meat, or a fault"),
    Flag.CONFLICT: N_("another reading of the same moment was recorded first"),
    Flag.LEFT_OUT: N_("left out by a person"),
}
