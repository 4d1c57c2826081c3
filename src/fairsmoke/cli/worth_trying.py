"""Which method is worth trying: ``worth-trying``."""

from dataclasses import asdict, dataclass
from typing import Annotated

import typer

from fairsmoke.cli.option_records import taking
from fairsmoke.cli.progress import far_along
from fairsmoke.cli.screen import DetailsOption, say, say_more, show_json, stopped
from fairsmoke.cli.simulation_options import KitchenOptions, PieceOptions, RunOptions
from fairsmoke.messages.message import N_, T_

_CHART_WIDTH = 760


@dataclass(frozen=True)
class RangeOptions:
    """How far each factor goes."""

    pit: Annotated[str, typer.Option(help=T_("'107 to 149 °C', or one value."))] = ""
    wrap_at: Annotated[str, typer.Option(help=T_("Core: '60 to 80 °C'."))] = ""
    until: Annotated[str, typer.Option(help=T_("Core: '86 to 97 °C'."))] = ""
    hold: Annotated[str, typer.Option(help=T_("'60 to 74 °C'."))] = ""
    hold_for: Annotated[str, typer.Option(help=T_("'1 h to 16 h'."))] = ""


@dataclass(frozen=True)
class QuestionOptions:
    """What is looked for, and what the next trial can be made of."""

    wraps: Annotated[str, typer.Option(help=T_("Kinds, with commas."))] = "bare,paper,foil,boat"
    pan: Annotated[str, typer.Option(help=T_("Water pan: both, without, with."))] = "both"
    hold_wrap: Annotated[str, typer.Option(help=T_("On in every hold."))] = "foil"
    base: Annotated[
        str,
        typer.Option(help=T_("The method to start the next trial from: 'pit=121 °C, wrap=paper'.")),
    ] = ""
    goals: Annotated[
        str, typer.Option(help=T_("Of yield, tenderness, crust, cap, time; with commas."))
    ] = "yield,tenderness,crust,time"
    worthwhile: Annotated[
        str, typer.Option(help=T_("Differences in yield and time that matter, with a comma."))
    ] = "2 points,1 h"
    most: Annotated[int, typer.Option(help=T_("The largest number of pairs to look at."))] = 6
    halves: Annotated[
        bool,
        typer.Option("--halves/--whole", help=T_("Pairs are halves of one piece, or not.")),
    ] = False
    price_piece: Annotated[float | None, typer.Option(help=T_("Of one piece."))] = None
    price_cook: Annotated[float | None, typer.Option(help=T_("Of one cook: fuel, a night."))] = None
    currency: Annotated[str, typer.Option(help=T_("Written behind sums."))] = ""
    sure: Annotated[
        float, typer.Option(help=T_("Share of draws from which a method is beaten."))
    ] = 0.9
    methods: Annotated[int, typer.Option(help=T_("How many methods to cook."))] = 200
    draws: Annotated[int, typer.Option(help=T_("Draws of what is not known, on one column."))] = 40
    whole_draws: Annotated[int, typer.Option(help=T_("How many of them on the whole body."))] = 4


@taking(PieceOptions, RangeOptions, QuestionOptions, KitchenOptions, RunOptions)
def worth_trying(
    sizes: PieceOptions,
    ranges: RangeOptions,
    question: QuestionOptions,
    place: KitchenOptions,
    run: RunOptions,
    details: DetailsOption = False,
) -> None:
    """Say which method is worth trying, and which knob the next trial should turn.

    Cooks many methods in the simulator. Ctrl-C stops it; the same command goes on from there.
    """
    from fairsmoke.answers.worth_trying import WorthTrying, compute
    from fairsmoke.telling.as_text import document_text
    from fairsmoke.telling.worth_trying import worth_trying_json, worth_trying_sections
    from fairsmoke.telling.worth_trying_chart import worth_trying_chart

    run.check()
    reader = run.reader()
    asked = WorthTrying(
        sizes.said, asdict(ranges), kitchen=place.said, seed=run.seed, **asdict(question)
    )
    try:
        with far_along(N_("Methods")) as tell:
            found = compute(asked, **run.how(tell))
    except KeyboardInterrupt as stop:
        done, of = stop.args or (0, asked.methods)
        message = N_("%(done)s of %(of)s methods are kept.", done=done, of=of)
        raise stopped(message) from None
    numbers = worth_trying_json(found)
    if run.as_json:
        show_json(numbers)
    else:
        answer, choice, following, *rest = worth_trying_sections(found)
        say(document_text([answer, choice, following, *(rest if details else ())], reader))
        say_more(details)
    run.draw(
        lambda: worth_trying_chart(numbers, reader, _CHART_WIDTH, background="white", ranking=True)
    )
