"""How many pairs, cooks and tasters a question takes: ``how-many``."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from fairsmoke.cli.option_records import said_options, taking
from fairsmoke.cli.progress import far_along
from fairsmoke.cli.screen import (
    DEFAULT_NOTEBOOK,
    DetailsOption,
    JsonOption,
    NotebookOption,
    TrialOption,
    opened,
    reader_here,
    say,
    say_more,
    show_json,
    trial_meant,
)
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, T_, InputField

if TYPE_CHECKING:
    from fairsmoke.answers.how_many import HowManyRequest
    from fairsmoke.planning.size.how_many import HowMany

PanelTest = Literal["triangle", "tetrad", "duo-trio", "paired comparison"]


@dataclass(frozen=True)
class SizeOptions:
    """What a plan can be made of."""

    pairs: Annotated[
        int | None,
        typer.Option(min=1, help=T_("The number that is asked about; else what is at hand.")),
    ] = None
    most: Annotated[int, typer.Option(help=T_("The largest number of pairs to look at."))] = 12
    each: Annotated[int, typer.Option(help=T_("Pieces of every arm side by side."))] = 1
    per_cook: Annotated[int | None, typer.Option(help=T_("Pairs cooked at the same time."))] = None
    halves: Annotated[
        bool | None,
        typer.Option("--halves/--whole", help=T_("Pairs are halves of one piece, or not.")),
    ] = None
    positions: Annotated[
        bool, typer.Option(help=T_("Whether the pieces of a pair stand in places that may differ."))
    ] = True
    whole_cooks: Annotated[
        bool | None,
        typer.Option(
            "--whole-cooks/--in-each-cook",
            help=T_("Whether every cook has one arm, with --each pieces of it."),
        ),
    ] = None
    sure: Annotated[float | None, typer.Option(help=T_("How sure a verdict must be, 0.95."))] = None
    price_piece: Annotated[float | None, typer.Option(help=T_("Of one piece."))] = None
    price_cook: Annotated[float | None, typer.Option(help=T_("Of one cook: fuel, a night."))] = None
    price_sitting: Annotated[float | None, typer.Option(help=T_("Of a taster in a cook."))] = None
    currency: Annotated[str, typer.Option(help=T_("Written behind sums."))] = ""
    tasters: Annotated[int | None, typer.Option(help=T_("How many taste."))] = None
    repeats: Annotated[int, typer.Option(help=T_("How often each tastes a piece."))] = 1
    scatter: Annotated[
        float | None, typer.Option(help=T_("Sd of one taster's answer, points of the scale."))
    ] = None
    own_effects: Annotated[
        float, typer.Option(help=T_("Sd of what a method does for one taster and not another."))
    ] = 0.0
    usual_time: Annotated[str, typer.Option(help=T_("About how long a cook takes, '12 h'."))] = ""
    measuring: Annotated[
        str, typer.Option(help=T_("Standard uncertainty of measuring one piece: '0.3 points'."))
    ] = ""
    true: Annotated[
        list[str] | None, typer.Option(help=T_("A true difference to look at; as often as wanted."))
    ] = None


@dataclass(frozen=True)
class OfOptions:
    """A measure said in a few words, without a trial."""

    of: Annotated[
        str, typer.Option("--of", help=T_("Without a trial: yield, score, measured …"))
    ] = ""
    worthwhile: Annotated[str, typer.Option(help=T_("With --of: '2 points', '30 min'."))] = ""
    unit: Annotated[str, typer.Option(help=T_("With --of measured: its unit."))] = ""
    spread: Annotated[
        str,
        typer.Option(
            help=T_("With --of: how far pieces treated alike differ, one standard deviation.")
        ),
    ] = ""
    called: Annotated[
        str, typer.Option(help=T_("With --of measured: what it is, such as 'shear force'."))
    ] = ""
    scale: Annotated[str, typer.Option(help=T_("With --of score: '1 to 9'."))] = ""
    arms: Annotated[int, typer.Option(help=T_("With --of: how many arms."))] = 2


@dataclass(frozen=True)
class PanelOptions:
    """A test of tasters, instead of pairs of pieces."""

    panel: Annotated[
        PanelTest | None, typer.Option(help=T_("Instead: how many tasters this test takes."))
    ] = None
    share: Annotated[
        float, typer.Option(help=T_("With --panel: share who tell the samples apart, 0 to 1."))
    ] = 0.3
    alpha: Annotated[
        float | None,
        typer.Option(
            help=T_("With --panel: risk of claiming a difference that is not there, 0.05.")
        ),
    ] = None
    beta: Annotated[
        float | None, typer.Option(help=T_("With --panel: risk of missing one, 0.2."))
    ] = None
    likeness: Annotated[
        bool, typer.Option("--likeness", help=T_("With --panel: to show that samples are alike."))
    ] = False
    two_sided: Annotated[
        bool, typer.Option("--two-sided", help=T_("With --panel 'paired comparison'."))
    ] = False


_PANEL = frozenset(PanelOptions.__dataclass_fields__)
_OF = frozenset(OfOptions.__dataclass_fields__)
_ANY = frozenset({"as_json", "notebook", "details"})


@taking(SizeOptions, OfOptions, PanelOptions)
def how_many(
    size: SizeOptions,
    of: OfOptions,
    panel: PanelOptions,
    context: typer.Context,
    which: Annotated[str, typer.Argument(help=T_("Which trial."), metavar="[TRIAL]")] = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    measure: Annotated[
        list[str] | None,
        typer.Option(help=T_("Only this measure of the trial; as often as wanted.")),
    ] = None,
    past: Annotated[
        bool, typer.Option(help=T_("Whether the notebook's other trials say how pieces spread."))
    ] = True,
    chart: Annotated[
        Path | None, typer.Option(help=T_("Draw it too: a name in .png, .svg or .pdf."))
    ] = None,
    details: DetailsOption = False,
    as_json: JsonOption = False,
) -> None:
    """Say how many pairs, cooks and tasters a question takes, and what they would cost."""
    from fairsmoke.telling.chart_style import form_of

    if chart is not None:
        form_of(chart)
    named = which or trial
    if sum((bool(named), bool(of.of), panel.panel is not None)) > 1:
        message = N_(
            "say one thing: a trial, a measure (%(of)s), or a test of tasters (%(panel)s)",
            of=InputField("of"),
            panel=InputField("panel"),
        )
        raise JobError(message)
    _check_used(said_options(context) - _ANY, of, panel)
    if panel.panel is not None:
        _panel(panel, as_json)
        return
    request = _request(size)
    found: tuple[HowMany, ...]
    if of.of:
        with far_along(N_("Trials are drawn and judged, for each number of pairs")):
            found, asked = (_of_measure(of, request),), size.pairs
    else:
        found, asked = _of_trial(notebook, named, tuple(measure or ()), request, past)
    _told(found, asked, chart, as_json=as_json, details=details)


def _check_used(said: set[str], of: OfOptions, panel: PanelOptions) -> None:
    """Raise JobError for an option that was said and that nothing would come of."""
    if panel.panel is not None:
        rest = said - _PANEL
        if rest:
            message = N_(
                "%(panel)s asks about tasters alone; leave %(option)s out",
                panel=InputField("panel"),
                option=InputField(min(rest)),
            )
            raise JobError(message, field=min(rest))
    needs = dict.fromkeys(_PANEL, "panel") if panel.panel is None else {}
    needs |= dict.fromkeys(_OF, "of") if not of.of else {"measure": "trial", "past": "trial"}
    needs |= (
        {"unit": "of measured", "called": "of measured"} if of.of and of.of != "measured" else {}
    )
    needs |= {"scale": "of score"} if of.of and of.of != "score" else {}
    for name in sorted(said & needs.keys()):
        message = N_(
            "%(option)s is said without %(needs)s, so nothing would come of it; leave it out",
            option=InputField(name),
            needs=InputField(needs[name]),
        )
        raise JobError(message, field=name)


def _request(size: SizeOptions) -> "HowManyRequest":
    from fairsmoke.answers.how_many import HowManyRequest
    from fairsmoke.planning.size.cost import Prices

    return HowManyRequest(
        most=max(size.most, size.pairs or 0),
        each=size.each,
        per_cook=size.per_cook,
        halves=size.halves,
        positions=size.positions,
        whole_cooks=size.whole_cooks,
        sure=size.sure,
        prices=Prices(size.price_piece, size.price_cook, size.price_sitting, size.currency),
        tasters=size.tasters,
        repeats=size.repeats,
        answer_sd=size.scatter,
        taster_by_method_sd=size.own_effects,
        usual_time=size.usual_time,
        measuring=size.measuring,
        true=tuple(size.true or ()),
        pairs=size.pairs,
    )


def _of_measure(of: OfOptions, request: "HowManyRequest") -> "HowMany":
    from fairsmoke.answers.how_many import how_many_of_measure, measure_of

    if not of.worthwhile:
        message = N_(
            "say what difference would matter (%(field)s), as “2 points”",
            field=InputField("worthwhile"),
        )
        raise JobError(message, field="worthwhile")
    asked = measure_of(
        of.of,
        of.worthwhile,
        unit=of.unit,
        scale=of.scale,
        spread=of.spread,
        called=of.called,
    )
    return how_many_of_measure(asked, request, of.arms)


def _of_trial(
    notebook: Path, named: str, measures: tuple[str, ...], request: "HowManyRequest", past: bool
) -> "tuple[tuple[HowMany, ...], int | None]":
    from fairsmoke.answers.how_many import how_many_of_trial, with_trial
    from fairsmoke.answers.past import past_of
    from fairsmoke.answers.store import Store, usual_folder

    with opened(notebook) as book:
        meant = trial_meant(book, named)
        record = book.load_trial(meant)
        taught = past_of(book, meant, Store(usual_folder())) if past else ()
    doing = reader_here().say(N_("Trials are drawn and judged, for each number of pairs"))
    with far_along(doing) as progress:
        found = how_many_of_trial(record, taught, request, measures, progress)
    return found, with_trial(record, request).pairs


def _told(
    found: "tuple[HowMany, ...]",
    asked: int | None,
    chart: Path | None,
    *,
    as_json: bool,
    details: bool,
) -> None:
    from fairsmoke.telling.as_text import document_text
    from fairsmoke.telling.how_many import how_many_document, how_many_json

    reader = reader_here()
    if as_json:
        show_json(how_many_json(found))
    else:
        document = how_many_document(found, asked)
        rest = document.details if details else []
        say(document_text([*document.answers, *rest], reader))
        say_more(details)
    if chart is not None:
        from fairsmoke.telling.how_many_chart import write_how_many_chart

        write_how_many_chart(found, chart, reader)
        if not as_json:
            say(reader.say(N_("Drawn: %(file)s", file=str(chart))))


def _panel(options: PanelOptions, as_json: bool) -> None:
    from fairsmoke.planning.panels.sizes import size_for_difference, size_for_likeness
    from fairsmoke.tasting.protocols import TasteTest
    from fairsmoke.telling.as_text import document_text
    from fairsmoke.telling.how_many import panel_document, panel_json

    test, alike, share = TasteTest(options.panel or ""), options.likeness, options.share
    # The claim that is made is the one whose risk is kept small.
    alpha = (0.2 if alike else 0.05) if options.alpha is None else options.alpha
    beta = (0.05 if alike else 0.2) if options.beta is None else options.beta
    if alike and options.two_sided:
        message = N_(
            "a test of likeness has one side; leave %(two_sided)s out",
            two_sided=InputField("two_sided"),
        )
        raise JobError(message, field="two_sided")
    if alike:
        size = size_for_likeness(test, share, alpha=alpha, beta=beta)
    else:
        two_sided = options.two_sided
        size = size_for_difference(test, share, alpha=alpha, beta=beta, two_sided=two_sided)
    if as_json:
        show_json(panel_json(test, share, size, alike=alike, alpha=alpha, beta=beta))
    else:
        sections = panel_document(test, share, size, alike=alike, alpha=alpha, beta=beta)
        say(document_text(sections, reader_here()))
