"""The question that binds a verdict: as registered and amended before the first result."""

from dataclasses import dataclass
from typing import Any

from fairsmoke.judging.deviations import first_result
from fairsmoke.trial.question import Measure, Trial, VerdictRule
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.registration import registered_of

_BINDING = ("worthwhile", "spread", "spread_share", "better", "state", "core_c")


@dataclass(frozen=True)
class Binding:
    """The measures and the rule by which a trial is judged, and those as they stand now.

    ``rule``, ``main`` (the handle of the main measure) and ``measures`` (by handle) bind; a measure
    that was not registered is not among them, and is exploratory. ``changed`` names the handles of
    measures whose question, or the rule itself ("verdict"), was changed after the first result.
    """

    rule: VerdictRule
    main: str
    measures: dict[str, Measure]
    changed: frozenset[str]


def binding_of(record: TrialRecord) -> Binding:
    """Return what binds a trial: what was registered before its first result, or what stands.

    An amendment binds when it was made before the first result; a later one is exploratory. A
    registration that came after the first result binds nobody.
    """
    now = record.trial
    measures = {measure.id: measure for measure in now.measures}
    as_it_stands = Binding(now.verdict, now.main_measure.id, measures, frozenset())
    registration = record.registration
    if registration is None:
        return as_it_stands
    first = first_result(record)
    if first is not None and registration.at > first:
        return as_it_stands
    try:
        then = registered_of(registration.plan).trial
    except ValueError:
        return as_it_stands
    early = {
        change.place
        for amendment in registration.amendments
        if first is None or amendment.at <= first
        for change in amendment.changes
    }
    late = {
        change.place
        for amendment in registration.amendments
        if first is not None and amendment.at > first
        for change in amendment.changes
    }
    return _bound(then, now, early - late, nothing_seen=first is None)


def _bound(then: Trial, now: Trial, early: set[str], *, nothing_seen: bool) -> Binding:
    before = {measure.id: measure for measure in then.measures}
    measures: dict[str, Measure] = {}
    changed: set[str] = set()
    for measure in now.measures:
        if measure.id not in before:
            continue
        kept: dict[str, Any] = {
            key: getattr(before[measure.id], key)
            for key in _BINDING
            if not nothing_seen and f"measures {measure.id}, {key}" not in early
        }
        measures[measure.id] = measure.model_copy(update=kept)
        if measures[measure.id] != measure:
            changed.add(measure.id)
    rule = then.verdict
    if nothing_seen or any(place.startswith("verdict") for place in early):
        rule = now.verdict
    if rule != now.verdict:
        changed.add("verdict")
    main = then.main_measure.id
    told = any(place.startswith("measures ") and place.endswith(", main") for place in early)
    if nothing_seen or told or main not in measures:
        main = now.main_measure.id
    return Binding(rule, main, measures, frozenset(changed))
