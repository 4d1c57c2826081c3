"""Which method is worth trying: asked in a form, worked out as a job, kept, shown."""

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Depends, Query
from fastapi.responses import HTMLResponse, Response

from fairsmoke.answers.store import StoredResult
from fairsmoke.answers.worth_trying import QUESTION, WorthTrying, missing
from fairsmoke.answers.worth_trying_options import FACTOR_OF, PANS
from fairsmoke.app.auth import needs
from fairsmoke.app.charts_script import script_name
from fairsmoke.app.pages.kept_answers import (
    FromAnswers,
    KeptAnswers,
    KeptQuestion,
    add_answer_routes,
)
from fairsmoke.app.pages.record import FormFields
from fairsmoke.app.pages.what_if_form import usual_form, with_unit
from fairsmoke.app.people.permissions import May
from fairsmoke.app.people.person import Person
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, InputField, Listed, Message, Words
from fairsmoke.planning.methods.space import GOALS, USUAL_GOALS, DesignSpace, MethodSettings
from fairsmoke.quantity import Units, show_duration, show_temperature
from fairsmoke.telling.document import sections_said
from fairsmoke.telling.method_words import contrast_words
from fairsmoke.telling.simulator_words import CUT_NAMES, HOLD_WRAPS, STANDING, WRAP_NAMES
from fairsmoke.telling.worth_trying_chart import contrast_from, worth_trying_chart

if TYPE_CHECKING:
    from fairsmoke.telling.chart_style import Drawable

router = APIRouter()

Planner = Annotated[Person, Depends(needs(May.SEE_TRIALS))]
"""Whoever may see plans."""

WORTH_TRYING = KeptQuestion(
    QUESTION,
    "worth_trying",
    N_("Which method is worth trying?"),
    N_("The methods are being cooked in the simulator"),
    N_("Stopped. The methods that were cooked are kept."),
)
PIECE_FIELDS: dict[str, Message] = {
    "mass": N_("Trimmed weight"),
    "length": N_("Length"),
    "width": N_("Width"),
    "thick": N_("Where it is thickest"),
    "thin": N_("Where it is thinnest, if you know"),
    "fat_cap": N_("Its fat cap, if you know"),
    "start": N_("When it goes on it has"),
}
RANGE_FIELDS: dict[str, Message] = {
    "pit": N_("Pit"),
    "wrap_at": N_("Wrapped when the core is at"),
    "until": N_("Comes off when the core is at"),
    "hold": N_("Holding cabinet"),
    "hold_for": N_("Held for"),
}
GOAL_NAMES: dict[str, Message] = {
    "yield": N_("yield"),
    "tenderness": N_("tenderness (collagen dissolved)"),
    "crust": N_("crust"),
    "cap": N_("fat cap rendered"),
    "time": N_("time to the end of the hold"),
}
PAN_NAMES = dict(zip(PANS, (N_("with and without"), N_("without"), N_("with")), strict=True))
WRAP_KINDS = ("bare", "paper", "foil", "boat")
FEWEST, MOST = 8, 1000
"""Methods that may be asked for: more would keep the machine for an hour."""
_PICTURE_WIDTH = 900


@router.get("/worth-trying", name="worth_trying")
def worth_trying_page(
    kept: FromAnswers, _: Planner, again: Annotated[str, Query(max_length=40)] = ""
) -> HTMLResponse:
    """Show the form, with usual ranges or as it was asked before; and what was asked lately."""
    entry = kept.store.find(QUESTION, again)
    fields = None if entry is None else entry.get("form")
    return _form_page(kept, fields or usual_fields(kept.page.way.units))


def _form_page(
    kept: KeptAnswers, fields: dict[str, str], problem: Words | None = None
) -> HTMLResponse:
    return kept.page.show(
        "worth_trying.html",
        status=422 if problem else 200,
        fields=fields,
        problem=problem,
        standing=STANDING,
        cuts=CUT_NAMES,
        pieces=PIECE_FIELDS,
        spans=RANGE_FIELDS,
        wraps={kind: WRAP_NAMES[kind] for kind in WRAP_KINDS},
        hold_wraps={code: words for code, words in HOLD_WRAPS.items() if code},
        pans=PAN_NAMES,
        goals=GOAL_NAMES,
        recent=_recent(kept),
    )


@router.post("/worth-trying", name="ask_worth_trying")
def ask(kept: FromAnswers, _: Planner, given: FormFields) -> Response:
    """Take the question in, and lead to its page."""
    fields = {name: value[:80] for name, value in given.items() if len(name) < 40}
    try:
        asked = asked_of(fields, kept.page.way.units)
    except JobError as error:
        return _form_page(kept, fields, error.message)
    # Whatever can be seen to be wrong is said beside the form, not after waiting.
    if problem := missing(asked):
        return _form_page(kept, fields, problem)
    kept.store.ask(asked.key, asdict(asked)).put("form", fields)
    return kept.take(WORTH_TRYING, asked.key, asdict(asked))


@router.get("/worth-trying/{key}", name="worth_trying_answer")
def answer(kept: FromAnswers, person: Planner, key: str) -> HTMLResponse:
    """Show which methods there are to choose from and what to try next, or how far it is."""
    page, entry = kept.page, kept.entry(WORTH_TRYING, key)
    numbers = entry.get("numbers")
    asks = numbers is not None and person.may(May.SET_UP)
    return kept.show(
        WORTH_TRYING,
        key,
        _subject(entry.request),
        again=page.path("worth_trying") + f"?again={key}",
        live=page.path("worth_chart", key=key) if numbers and numbers["listed"] else "",
        script=page.path("charts_script", name=script_name()),
        links={2: list(_trials(kept, key, numbers))} if asks else {},
        more=(page.path("worth_methods", key=key), N_("All methods that keep the limits")),
    )


def _trials(kept: KeptAnswers, key: str, numbers: Mapping[str, Any]) -> Iterator[tuple[str, Words]]:
    """Yield for each ranked contrast where it is asked as a trial."""
    seen = set()
    for measure, best in enumerate(numbers["ranked"].values()):
        for row, at in enumerate(best):
            if at in seen:
                continue
            seen.add(at)
            contrast = contrast_from(numbers["knobs"][at])
            where = f"?worth={key}&measure={measure}&row={row}"
            what = contrast_words(contrast)
            yield kept.page.path("ask_new") + where, N_("Ask it as a trial: %(what)s", what=what)


@router.get("/worth-trying/{key}/methods", name="worth_methods")
def methods(kept: FromAnswers, _: Planner, key: str) -> HTMLResponse:
    """Show every method that keeps the limits, with the numbers that the chart draws."""
    (section,) = sections_said(kept.document(WORTH_TRYING, key, "methods"), kept.page.way)
    return kept.page.show("worth_methods.html", key=key, section=section)


def _chart(kept: KeptAnswers, entry: StoredResult) -> "Drawable":
    numbers, way = entry.get("numbers"), kept.page.way
    return worth_trying_chart(numbers, way, _PICTURE_WIDTH, background="white")


add_answer_routes(router, WORTH_TRYING, May.SEE_TRIALS, _chart)


def _recent(kept: KeptAnswers) -> list[tuple[str, Words, bool]]:
    found: list[tuple[str, Words, bool]] = []
    for one in kept.recent(WORTH_TRYING):
        asked = one["request"]
        label = N_("%(what)s: %(count)s methods", what=_subject(asked), count=asked["methods"])
        found.append((one["path"], label, one["done"]))
    return found


def _subject(asked: Mapping[str, Any]) -> Listed:
    piece = asked["piece"]
    return Listed([CUT_NAMES.get(piece["cut"], piece["cut"]), piece["mass"]])


def usual_fields(units: Units) -> dict[str, str]:
    """Return the fields as they are first seen: usual ranges, a piece as many cook it."""
    space, base = DesignSpace(), MethodSettings()
    found = {f"piece-{name}": said for name, said in usual_form(units).piece.items()}
    for name, factor in FACTOR_OF.items():
        span = getattr(space, factor)
        found[f"{name}-low"] = _shown(name, span.low, units)
        found[f"{name}-high"] = _shown(name, span.high, units)
        found[f"base-{name}"] = _shown(name, getattr(base, factor), units)
    found |= {f"wrap-{kind}": "yes" for kind in WRAP_KINDS}
    found |= {f"goal-{goal}": "yes" for goal in USUAL_GOALS}
    return found | {
        "pan": "both",
        "hold_wrap": space.hold_wrap,
        "base-wrap": base.wrap,
        "base-pan": "no",
        "worth-yield": "2",
        "worth-time": "1 h",
        "halves": "no",
        "methods": "200",
        "room": "20 °C" if units.temperature == "C" else "68 °F",
    }


def _shown(name: str, value: float, units: Units) -> str:
    if name == "hold_for":
        return show_duration(value)
    return show_temperature(value, units, 0)


def asked_of(fields: Mapping[str, str], units: Units) -> WorthTrying:
    """Return what is asked; a bare number has the person's unit.

    Raises JobError for what cannot be read as it is written.
    """

    def said(name: str, field: str) -> str:
        text = with_unit(name, fields.get(field, "").strip()[:60], units)
        # Options are joined by commas further down; a comma in a number is a decimal one.
        return text.replace(",", ".")

    ranges = {
        name: " to ".join(e for e in (said(name, f"{name}-low"), said(name, f"{name}-high")) if e)
        for name in RANGE_FIELDS
    }
    base = {name: said(name, f"base-{name}") for name in RANGE_FIELDS}
    base |= {name: fields.get(f"base-{name}", "") for name in ("wrap", "pan")}
    points = fields.get("worth-yield", "").strip()[:30].replace(",", ".")
    points = f"{points} points" if points.replace(".", "", 1).isdigit() else points
    methods = fields.get("methods", "").strip()
    if not (methods.isascii() and methods.isdigit() and FEWEST <= int(methods[:6]) <= MOST):
        message = N_(
            "%(said)s methods: write a whole number from %(low)s to %(high)s, such as 200",
            said=methods[:20],
            low=FEWEST,
            high=MOST,
        )
        raise JobError(message, field="methods")
    return WorthTrying(
        piece={"cut": fields.get("piece-cut", "")}
        | {name: said(name, f"piece-{name}") for name in PIECE_FIELDS},
        ranges=ranges,
        wraps=",".join(kind for kind in WRAP_KINDS if fields.get(f"wrap-{kind}")),
        pan=fields.get("pan", ""),
        hold_wrap=fields.get("hold_wrap", ""),
        base=",".join(f"{name}={value}" for name, value in base.items() if value),
        goals=",".join(goal for goal in GOALS if fields.get(f"goal-{goal}")),
        worthwhile=f"{points},{said('hold_for', 'worth-time')}",
        halves=fields.get("halves") == "yes",
        price_piece=_price(fields, "price_piece"),
        price_cook=_price(fields, "price_cook"),
        currency=fields.get("currency", "").strip()[:12],
        kitchen={"room": said("room", "room"), "altitude": said("altitude", "altitude")},
        methods=int(methods),
    )


def _price(fields: Mapping[str, str], name: str) -> float | None:
    said = fields.get(name, "").strip()[:20]
    try:
        found = float(said.replace(",", ".")) if said else None
    except ValueError:
        found = -1.0
    if found is not None and not 0.0 <= found < 1e9:
        message = N_(
            "%(field)s '%(said)s': write a number, such as 60", field=InputField(name), said=said
        )
        raise JobError(message, field=name)
    return found
