"""The checks that span several records of a trial: what does not fit together, and the mend."""

from collections.abc import Iterable, Iterator
from datetime import timedelta
from itertools import combinations, pairwise

from fairsmoke.messages.message import N_, Message, Words, placed
from fairsmoke.trial.cook import Cook, Event, EventKind, Piece
from fairsmoke.trial.nouns import named, noun
from fairsmoke.trial.probe import Placement
from fairsmoke.trial.record_parts import RecordParts
from fairsmoke.trial.weighing import SHARED_KINDS, Part

_KINDS = (
    "cooker",
    "scale",
    "probe",
    "taster",
    "cook",
    "piece",
    "placement",
    "event",
    "weighing",
    "estimate",
    "sample",
    "ballot",
    "figure",
    "exclusion",
    "source",
)

_EARLIEST = timedelta(days=1)
"""How long before its cook starts something of it may have happened: trimming, the fire."""


def problems_of(record: RecordParts) -> Iterator[Message]:
    """Yield each fault of a record with its place and the mend."""
    yield from _repeated_handles(record)
    yield from _piece_problems(record)
    yield from _cook_problems(record)
    yield from _placement_problems(record)
    yield from _scale_problems(record)
    yield from _tasting_problems(record)
    yield from _figure_problems(record)


def _repeated_handles(record: RecordParts) -> Iterator[Message]:
    for kind in _KINDS:
        seen: set[str] = set()
        for one in getattr(record, f"{kind}s"):
            if one.id in seen:
                yield N_(
                    "two records of the kind '%(kind)s' are called '%(handle)s'; give each its own "
                    "id",
                    kind=noun(kind),
                    handle=one.id,
                )
            seen.add(one.id)


def _missing(
    place: Words, what: str, handle: str | None, known: Iterable[str]
) -> Iterator[Message]:
    handles = list(known)
    if handle is not None and handle not in handles:
        yield placed(
            place,
            N_(
                "there is no %(what)s '%(handle)s' (known: %(known)s)",
                what=noun(what),
                handle=handle,
                known=", ".join(handles) or N_("none recorded yet"),
            ),
        )


def _ids(records: Iterable[object]) -> list[str]:
    return [str(getattr(record, "id", "")) for record in records]


def _spots(record: RecordParts) -> list[str]:
    return [f"{cooker.id}/{spot.id}" for cooker in record.cookers for spot in cooker.positions]


def _piece_problems(record: RecordParts) -> Iterator[Message]:
    pieces = {piece.id: piece for piece in record.pieces}
    cooks = {cook.id: cook for cook in record.cooks}
    for piece in record.pieces:
        place = named("piece", piece.id)
        yield from _missing(place, "cook", piece.cook, cooks)
        yield from _missing(place, "arm", piece.arm, _ids(record.trial.arms))
        yield from _missing(place, "piece", piece.half_of, pieces)
        if piece.spot is not None:
            yield from _missing(place, "position", piece.spot.text, _spots(record))
            cook = cooks.get(piece.cook or "")
            if cook is not None and piece.spot.cooker not in cook.cookers:
                yield placed(
                    place,
                    N_(
                        "cooker '%(cooker)s' is not part of cook '%(cook)s'",
                        cooker=piece.spot.cooker,
                        cook=cook.id,
                    ),
                )
        whole = pieces.get(piece.half_of or "")
        if whole is not None and whole.arm is not None:
            yield placed(
                place,
                N_(
                    "its whole '%(whole)s' was cut up, so it cannot have an arm itself",
                    whole=whole.id,
                ),
            )
        if piece.arm is not None and record.trial.draw.within == "pair" and piece.pair is None:
            yield placed(place, N_("arms were drawn within pairs, so it needs 'pair'"))


def _cook_problems(record: RecordParts) -> Iterator[Message]:
    pieces = {piece.id: piece for piece in record.pieces}
    cooks = {cook.id: cook for cook in record.cooks}
    for cook in record.cooks:
        for cooker in cook.cookers:
            yield from _missing(named("cook", cook.id), "cooker", cooker, _ids(record.cookers))
    for event in record.events:
        place = named("event", event.id)
        yield from _missing(place, "cook", event.cook, cooks)
        yield from _missing(place, "cooker", event.cooker, _ids(record.cookers))
        yield from _missing(place, "probe", event.probe, _ids(record.probes))
        if event.to is not None:
            yield from _missing(place, "position", event.to.text, _spots(record))
        for handle in event.pieces:
            yield from _missing(place, "piece", handle, pieces)
            piece = pieces.get(handle)
            if piece is not None and piece.cook != event.cook:
                yield placed(
                    place,
                    N_(
                        "piece '%(handle)s' is in cook '%(cook)s', not '%(other_cook)s'",
                        handle=handle,
                        cook=piece.cook,
                        other_cook=event.cook,
                    ),
                )
        yield from _outside_cook(place, event, cooks.get(event.cook))
    for unit in record.units:
        yield from _order_problems(record, unit)


def _outside_cook(place: Words, event: Event, cook: Cook | None) -> Iterator[Message]:
    if cook is None:
        return
    if cook.ends is not None and event.at > cook.ends:
        yield placed(
            place,
            N_(
                "it happened after cook '%(cook)s' ended; correct the one or the other",
                cook=cook.id,
            ),
        )
    if event.at < cook.starts - _EARLIEST:
        yield (
            placed(
                place,
                N_(
                    "it happened more than a day before cook '%(cook)s' started; "
                    "correct the date of the one or the other",
                    cook=cook.id,
                ),
            )
        )


def _order_problems(record: RecordParts, piece: Piece) -> Iterator[Message]:
    went_on = record.events_of(piece.id, EventKind.ON)
    pulled = record.events_of(piece.id, EventKind.PULL)
    if went_on and pulled and pulled[-1].at <= went_on[0].at:
        yield (
            placed(
                named("piece", piece.id),
                N_(
                    "pulled (%(pulled)s) before it went on (%(on)s); correct one of the times",
                    pulled=pulled[-1].id,
                    on=went_on[0].id,
                ),
            )
        )


def _placement_problems(record: RecordParts) -> Iterator[Message]:
    by_probe: dict[tuple[str, str], list[Placement]] = {}
    pieces = {piece.id: piece for piece in record.pieces}
    for placement in record.placements:
        place = named("placement", placement.id)
        yield from _missing(place, "cook", placement.cook, _ids(record.cooks))
        yield from _missing(place, "probe", placement.probe, _ids(record.probes))
        yield from _missing(place, "piece", placement.piece, pieces)
        piece = pieces.get(placement.piece or "")
        if piece is not None and piece.cook is not None and piece.cook != placement.cook:
            yield (
                placed(
                    place,
                    N_(
                        "piece '%(piece)s' is in cook '%(cook)s', not '%(other_cook)s'; "
                        "correct the one or the other",
                        piece=piece.id,
                        cook=piece.cook,
                        other_cook=placement.cook,
                    ),
                )
            )
        if placement.spot is not None:
            yield from _missing(place, "position", placement.spot.text, _spots(record))
        by_probe.setdefault((placement.cook, placement.probe), []).append(placement)
    for stays in by_probe.values():
        stays.sort(key=lambda stay: stay.since)
        for earlier, later in pairwise(stays):
            if earlier.until is None or earlier.until > later.since:
                yield (
                    placed(
                        named("placement", later.id),
                        N_(
                            "probe '%(probe)s' was then still in '%(earlier)s'; give that one "
                            "its 'until'",
                            probe=later.probe,
                            earlier=earlier.id,
                        ),
                    )
                )


def _scale_problems(record: RecordParts) -> Iterator[Message]:
    for weighing in record.weighings:
        place = named("weighing", weighing.id)
        yield from _missing(place, "scale", weighing.scale, _ids(record.scales))
        yield from _missing(place, "piece", weighing.piece, _ids(record.pieces))
        yield from _missing(place, "cook", weighing.cook, _ids(record.cooks))
    for estimate in record.estimates:
        yield from _missing(
            named("estimate", estimate.id), "piece", estimate.piece, _ids(record.pieces)
        )
    alone = {
        _whose(weighing.piece, weighing.sum[0]): weighing.id
        for weighing in record.weighings
        if len(weighing.sum) == 1
    }
    for estimate in record.estimates:
        weighed = alone.get(_whose(estimate.piece, estimate.part))
        if weighed is not None:
            yield (
                placed(
                    named("estimate", estimate.id),
                    N_(
                        "%(part)s was also weighed alone ('%(weighed)s'); keep the "
                        "weighing and take the estimate out",
                        part=estimate.part.text,
                        weighed=weighed,
                    ),
                )
            )


def _whose(piece: str | None, part: Part) -> tuple[str | None, str]:
    """Return whose part it is: a tray is one for the whole trial."""
    return (None if part.kind in SHARED_KINDS else piece, part.text)


def _tasting_problems(record: RecordParts) -> Iterator[Message]:
    measures = {measure.id: measure for measure in record.trial.measures}
    pieces = {piece.id: piece for piece in record.pieces}
    samples = {sample.id: sample.piece for sample in record.samples}
    yield from _repeated_codes(record)
    for sample in record.samples:
        yield from _missing(named("sample", sample.id), "piece", sample.piece, _ids(record.pieces))
    for ballot in record.ballots:
        place = named("ballot", ballot.id)
        yield from _missing(place, "taster", ballot.taster, _ids(record.tasters))
        yield from _missing(place, "cook", ballot.cook, _ids(record.cooks))
        yield from _missing(place, "measure", ballot.measure, measures)
        measure = measures.get(ballot.measure)
        for score in ballot.scores:
            yield from _missing(place, "sample", score.sample, samples)
            piece = pieces.get(samples.get(score.sample, ""))
            if piece is not None and piece.cook not in (None, ballot.cook):
                yield (
                    placed(
                        place,
                        N_(
                            "sample '%(sample)s' is of piece '%(piece)s' in cook '%(cook)s', "
                            "not '%(other_cook)s'; correct the ballot's cook or its sample",
                            sample=score.sample,
                            piece=piece.id,
                            cook=piece.cook,
                            other_cook=ballot.cook,
                        ),
                    )
                )
            if measure is None or measure.scale_low is None or measure.scale_high is None:
                continue
            if not measure.scale_low <= score.value <= measure.scale_high:
                yield (
                    placed(
                        place,
                        N_(
                            "%(value)s for '%(sample)s' is off the scale of %(scale_low)s to "
                            "%(scale_high)s",
                            value=f"{score.value:g}",
                            sample=score.sample,
                            scale_low=f"{measure.scale_low:g}",
                            scale_high=f"{measure.scale_high:g}",
                        ),
                    )
                )


def _repeated_codes(record: RecordParts) -> Iterator[Message]:
    """Yield each code that stood for two pieces of one cook on the ballots of one measure."""
    cooks = {piece.id: piece.cook for piece in record.pieces}
    shown = {
        (ballot.measure, sample)
        for ballot in record.ballots
        for sample in (*ballot.presented, *(score.sample for score in ballot.scores))
    }
    by_code: dict[tuple[str, str | None, int], list[tuple[str, str]]] = {}
    for measure in record.trial.measures:
        for sample in record.samples:
            if sample.code is not None and (measure.id, sample.id) in shown:
                key = (measure.id, cooks.get(sample.piece), sample.code)
                by_code.setdefault(key, []).append((sample.id, sample.piece))
    said: set[tuple[str, str]] = set()
    for (_, cook, code), handed in by_code.items():
        for (first, one), (second, other) in combinations(handed, 2):
            if one != other and (first, second) not in said:
                said.add((first, second))
                yield (
                    N_(
                        "samples '%(first)s' and '%(second)s': both carried code %(code)s in "
                        "cook '%(cook)s' but are of different pieces; correct the code that is "
                        "wrong",
                        first=first,
                        second=second,
                        code=code,
                        cook=cook,
                    )
                )


def _figure_problems(record: RecordParts) -> Iterator[Message]:
    for figure in record.figures:
        place = named("figure", figure.id)
        yield from _missing(place, "piece", figure.piece, _ids(record.pieces))
        yield from _missing(place, "measure", figure.measure, _ids(record.trial.measures))
    for exclusion in record.exclusions:
        place = named("exclusion", exclusion.id)
        yield from _missing(place, "piece", exclusion.piece, _ids(record.pieces))
        yield from _missing(place, "measure", exclusion.measure, _ids(record.trial.measures))
        yield from _missing(place, "probe", exclusion.probe, _ids(record.probes))
        yield from _missing(place, "cook", exclusion.cook, _ids(record.cooks))
