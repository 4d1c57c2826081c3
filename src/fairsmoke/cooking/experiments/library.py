"""Reads the library of published experiments and says which may be fitted and which only tested.

One YAML file a source stands in ``sources/``. A file may hold a ``common`` block whose piece,
heating, end, assumed and single fields every case of the file takes over unless it has its own.
"""

from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from pydantic import TypeAdapter, ValidationError
from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError

from fairsmoke.cooking.experiments.model import Case, Measure, MeasuredOutcome, Publication, Use
from fairsmoke.messages.errors import InputError

_PARTS = ("piece", "heating", "end")
_SOURCE = TypeAdapter(Publication)


class ExperimentError(InputError):
    """A file of the library cannot be used; the message names the file, the place and the mend."""


def assigned_use(sources: Iterable[Publication]) -> dict[str, Use]:
    """Return each source's use, by a rule written down before any constant was fitted.

    The rule looks at no measured number and at no model result:
    1. National tables and sources that only say which of two was larger are always for testing.
    2. Within each other class (oven, water bath, smokehouse, tenderness) the sources stand from
       the oldest to the newest, those of one year by key; the 1st, 3rd, 5th, … are for fitting,
       the 2nd, 4th, … for testing.
    3. Publications of the same measurements (``family``) have one place, that of the first.
    4. A source that comes after a fitting (``round`` above 1) takes the next place after all
       earlier ones, so that nothing already fitted turns into a test.
    """
    use: dict[str, Use] = {}
    placed: dict[tuple[str, str], Use] = {}
    count: dict[str, int] = {}
    for source in sorted(sources, key=_place):
        place = (source.rule_class, source.family or source.key)
        if place not in placed:
            count[source.rule_class] = count.get(source.rule_class, 0) + 1
            always_test = source.rule_class in ("national", "order")
            odd = count[source.rule_class] % 2 == 1
            placed[place] = "fit" if odd and not always_test else "test"
        use[source.key] = placed[place]
    return use


def _place(source: Publication) -> tuple[str, int, int, str]:
    """Return where a source stands in the order of the rule."""
    return (source.rule_class, source.round, source.year, source.key)


@cache
def library() -> tuple[Publication, ...]:
    """Return every source, by key. Raises ExperimentError for a file that cannot be used."""
    folder = files("fairsmoke.cooking.experiments").joinpath("sources")
    names = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".yaml"))
    sources = tuple(parse_source(folder.joinpath(name).read_text("utf-8"), name) for name in names)
    check_use(sources)
    return sources


def check_use(sources: Iterable[Publication]) -> None:
    """Raise ExperimentError where a source's written use is not the one the rule gives."""
    every = tuple(sources)
    expected = assigned_use(every)
    for source in every:
        if source.use != expected[source.key]:
            raise ExperimentError(
                f"{source.key}.yaml: use is {source.use}, the rule gives {expected[source.key]}. "
                "Write what the rule gives; a source's use is not chosen by its numbers."
            )


def measured(
    measure: Measure, use: Use | None = None
) -> Iterator[tuple[Publication, Case, MeasuredOutcome]]:
    """Yield every single outcome of that measure, of the sources with that use if one is named.

    Means printed over several cases (``Publication.pooled``) are not among them.
    """
    for source in library():
        if use is None or source.use == use:
            for case in source.cases:
                for outcome in case.outcomes:
                    if outcome.measure == measure:
                        yield source, case, outcome


def parse_source(text: str, name: str) -> Publication:
    """Return the source written in ``text``; ``name`` is its file name, which gives its key.

    Raises ExperimentError naming file, place and mend.
    """
    try:
        raw = YAML(typ="safe", pure=True).load(text)
    except YAMLError as error:
        raise ExperimentError(f"{name}: not readable as YAML: {error}. Mend the line.") from error
    if not isinstance(raw, Mapping):
        raise ExperimentError(f"{name}: holds no keys. Write the source's fields, one a line.")
    fields: dict[str, Any] = dict(raw)
    common = fields.pop("common", {})
    fields["cases"] = [_with_common(common, case) for case in fields.get("cases", [])]
    fields.setdefault("key", name.removesuffix(".yaml"))
    try:
        source: Publication = _SOURCE.validate_python(fields)
    except ValidationError as error:
        raise ExperimentError(_told(error, name, fields)) from error
    if source.key != name.removesuffix(".yaml"):
        raise ExperimentError(f"{name}: its key is {source.key}. Name the file after its key.")
    return source


def _with_common(common: Mapping[str, Any], case: Mapping[str, Any]) -> dict[str, Any]:
    """Return the case with the file's common fields added where it has none of its own."""
    whole = {**common, **case}
    for part in _PARTS:
        whole[part] = {**common.get(part, {}), **case.get(part, {})}
    own = list(case.get("assumed", []))
    named = {assumption.get("field") for assumption in own}
    shared = [one for one in common.get("assumed", []) if one.get("field") not in named]
    whole["assumed"] = own + shared
    return whole


def _told(error: ValidationError, name: str, fields: Mapping[str, Any]) -> str:
    """Return the first fault in words: file, case, field, what is wrong with it."""
    fault = error.errors()[0]
    place = list(fault["loc"])
    if place[:1] == ["cases"] and len(place) > 1 and isinstance(place[1], int):
        place[1] = fields["cases"][place[1]].get("key", place[1])
    where = " → ".join(str(part) for part in place) or "the whole source"
    more = "" if error.error_count() == 1 else f" ({error.error_count() - 1} more faults follow)"
    return f"{name}: {where}: {fault['msg']}. Mend that line of the file.{more}"
