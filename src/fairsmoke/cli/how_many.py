"""How many pairs, cooks and tasters a question takes: ``how-many``."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from fairsmoke.cli.screen import (
    DEFAULT_NOTEBOOK,
    JsonOption,
    NotebookOption,
    TrialOption,
    opened,
    say,
    show_json,
    trial_meant,
)
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import T_

if TYPE_CHECKING:
    from fairsmoke.answers.how_many import Choices
    from fairsmoke.planning.size.how_many import HowMany

PanelTest = Literal["triangle", "tetrad", "duo-trio", "paired comparison"]


def how_many(
    which: Annotated[str, typer.Argument(help=T_("Which trial."), metavar="[TRIAL]")] = "",
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    measure: Annotated[
        list[str] | None,
        typer.Option(help=T_("Only this measure of the trial; as often as wanted.")),
    ] = None,
    of: Annotated[
        str, typer.Option("--of", help=T_("Without a trial: yield, 'cook time', score, measured."))
    ] = "",
    worthwhile: Annotated[str, typer.Option(help=T_("With --of: '2 points', '30 min'."))] = "",
    unit: Annotated[str, typer.Option(help=T_("With --of measured: its unit."))] = "",
    scale: Annotated[str, typer.Option(help=T_("With --of score: '1 to 9'."))] = "",
    arms: Annotated[int, typer.Option(help=T_("With --of: how many arms."))] = 2,
    most: Annotated[int, typer.Option(help=T_("The largest number of pairs to look at."))] = 12,
    each: Annotated[int, typer.Option(help=T_("Pieces of every arm side by side."))] = 1,
    per_cook: Annotated[int | None, typer.Option(help=T_("Pairs cooked at the same time."))] = None,
    halves: Annotated[
        bool | None,
        typer.Option("--halves/--whole", help=T_("Pairs are halves of one piece, or not.")),
    ] = None,
    positions: Annotated[
        bool, typer.Option(help=T_("Whether the pieces of a pair stand in places that may differ."))
    ] = True,
    sure: Annotated[
        float | None, typer.Option(help=T_("How sure a verdict must be, 0.95."))
    ] = None,
    price_piece: Annotated[float | None, typer.Option(help=T_("Of one piece."))] = None,
    price_cook: Annotated[
        float | None, typer.Option(help=T_("Of one cook: fuel, a night."))
    ] = None,
    price_sitting: Annotated[float | None, typer.Option(help=T_("Of a taster in a cook."))] = None,
    currency: Annotated[str, typer.Option(help=T_("Written behind sums."))] = "",
    tasters: Annotated[int | None, typer.Option(help=T_("How many taste."))] = None,
    repeats: Annotated[int, typer.Option(help=T_("How often each tastes a piece."))] = 1,
    scatter: Annotated[
        float | None, typer.Option(help=T_("Sd of one taster's answer, points of the scale."))
    ] = None,
    own_effects: Annotated[
        float, typer.Option(help=T_("Sd of what a method does for one taster and not another."))
    ] = 0.0,
    usual_time: Annotated[str, typer.Option(help=T_("About how long a cook takes, '12 h'."))] = "",
    measuring: Annotated[
        str, typer.Option(help=T_("Standard uncertainty of measuring one piece: '0.3 points'."))
    ] = "",
    true: Annotated[
        list[str] | None, typer.Option(help=T_("A true difference to look at; as often as wanted."))
    ] = None,
    past: Annotated[
        bool, typer.Option(help=T_("Whether the notebook's other trials say how pieces spread."))
    ] = True,
    panel: Annotated[
        PanelTest | None, typer.Option(help=T_("Instead: how many tasters this test takes."))
    ] = None,
    share: Annotated[
        float, typer.Option(help=T_("With --panel: share who tell the samples apart, 0 to 1."))
    ] = 0.3,
    alpha: Annotated[
        float | None,
        typer.Option(
            help=T_("With --panel: risk of claiming a difference that is not there, 0.05.")
        ),
    ] = None,
    beta: Annotated[
        float | None, typer.Option(help=T_("With --panel: risk of missing one, 0.2."))
    ] = None,
    likeness: Annotated[
        bool, typer.Option("--likeness", help=T_("With --panel: to show that samples are alike."))
    ] = False,
    two_sided: Annotated[
        bool, typer.Option("--two-sided", help=T_("With --panel 'paired comparison'."))
    ] = False,
    chart: Annotated[
        Path | None, typer.Option(help=T_("Draw it too: a name in .png, .svg or .pdf."))
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Say how many pairs, cooks and tasters a question takes, and what they would cost."""
    from fairsmoke.answers.how_many import Choices
    from fairsmoke.planning.size.cost import Prices
    from fairsmoke.telling.chart_style import form_of

    if chart is not None:
        form_of(chart)
    named = which or trial
    if sum((bool(named), bool(of), panel is not None)) > 1:
        raise JobError("say one thing: a trial, a measure with --of …, or a test with --panel …")
    if panel is not None:
        if chart is not None:
            raise JobError("--panel draws no chart; leave --chart out")
        _panel(panel, share, alpha, beta, likeness, two_sided, as_json)
        return
    choices = Choices(
        most=most,
        each=each,
        per_cook=per_cook,
        halves=halves,
        positions=positions,
        sure=sure,
        prices=Prices(price_piece, price_cook, price_sitting, currency),
        tasters=tasters,
        repeats=repeats,
        answer_sd=scatter,
        taster_by_method_sd=own_effects,
        usual_time=usual_time,
        measuring=measuring,
        true=tuple(true or ()),
    )
    if of:
        found = _of_measure(of, worthwhile, unit, scale, arms, choices)
    else:
        found = _of_trial(notebook, named, tuple(measure or ()), choices, past)
    _told(found, chart, as_json)


def _of_measure(
    of: str, worthwhile: str, unit: str, scale: str, arms: int, choices: "Choices"
) -> "tuple[HowMany, ...]":
    from fairsmoke.answers.how_many import how_many_of_measure, measure_of

    if not worthwhile:
        raise JobError("say what difference would matter: --worthwhile '2 points'")
    asked = measure_of(of, worthwhile, unit=unit, scale=scale)
    return (how_many_of_measure(asked, choices, arms),)


def _of_trial(
    notebook: Path, named: str, measures: tuple[str, ...], choices: "Choices", past: bool
) -> "tuple[HowMany, ...]":
    from fairsmoke.answers.how_many import how_many_of_trial, past_findings

    with opened(notebook) as book:
        meant = trial_meant(book, named)
        record = book.load_trial(meant)
        findings = past_findings(book, meant) if past else []
    return how_many_of_trial(record, findings, choices, measures)


def _told(found: "tuple[HowMany, ...]", chart: Path | None, as_json: bool) -> None:
    from fairsmoke.telling.how_many import how_many_json, how_many_text

    show_json(how_many_json(found)) if as_json else say(how_many_text(found))
    if chart is not None:
        from fairsmoke.telling.how_many_chart import write_how_many_chart

        write_how_many_chart(found, chart)
        if not as_json:
            say(f"Drawn: {chart}")


def _panel(
    panel: PanelTest,
    share: float,
    alpha: float | None,
    beta: float | None,
    likeness: bool,
    two_sided: bool,
    as_json: bool,
) -> None:
    from fairsmoke.planning.panels.sizes import size_for_difference, size_for_likeness
    from fairsmoke.tasting.protocols import TasteTest
    from fairsmoke.telling.how_many import panel_json, panel_text

    test = TasteTest(panel)
    # The claim that is made is the one whose risk is kept small.
    alpha = (0.2 if likeness else 0.05) if alpha is None else alpha
    beta = (0.05 if likeness else 0.2) if beta is None else beta
    if likeness and two_sided:
        raise JobError("a test of likeness has one side; leave --two-sided out")
    if likeness:
        size = size_for_likeness(test, share, alpha=alpha, beta=beta)
    else:
        size = size_for_difference(test, share, alpha=alpha, beta=beta, two_sided=two_sided)
    if as_json:
        show_json(panel_json(test, share, size, alike=likeness, alpha=alpha, beta=beta))
    else:
        say(panel_text(test, share, size, alike=likeness, alpha=alpha, beta=beta))
