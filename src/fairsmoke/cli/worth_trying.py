"""Which method is worth trying: ``worth-trying``."""

from pathlib import Path
from typing import Annotated

import typer

from fairsmoke.cli.finding import UnitsOption
from fairsmoke.cli.screen import JsonOption, far_along, say, show_json, stopped
from fairsmoke.messages.message import T_


def worth_trying(
    cut: Annotated[str, typer.Option(help=T_("brisket, pork shoulder …"))] = "",
    mass: Annotated[str, typer.Option(help=T_("Trimmed: '5.6 kg', '12 lb 4 oz'."))] = "",
    length: Annotated[str, typer.Option(help=T_("'42 cm', '16 in'."))] = "",
    width: Annotated[str, typer.Option(help=T_("Its width."))] = "",
    thick: Annotated[str, typer.Option(help=T_("Where it is thickest."))] = "",
    thin: Annotated[str, typer.Option(help=T_("Where it is thinnest; usual when left out."))] = "",
    fat_cap: Annotated[str, typer.Option(help=T_("Of the cap; usual when left out."))] = "",
    start: Annotated[str, typer.Option(help=T_("Its temperature when it goes on."))] = "4 °C",
    pit: Annotated[str, typer.Option(help=T_("'107 to 149 °C', or one value."))] = "",
    wrap_at: Annotated[str, typer.Option(help=T_("Core: '60 to 80 °C'."))] = "",
    until: Annotated[str, typer.Option(help=T_("Core: '86 to 97 °C'."))] = "",
    hold: Annotated[str, typer.Option(help=T_("'60 to 74 °C'."))] = "",
    hold_for: Annotated[str, typer.Option(help=T_("'1 h to 16 h'."))] = "",
    wraps: Annotated[str, typer.Option(help=T_("Kinds, with commas."))] = "bare,paper,foil,boat",
    pan: Annotated[str, typer.Option(help=T_("Water pan: both, without, with."))] = "both",
    hold_wrap: Annotated[str, typer.Option(help=T_("On in every hold."))] = "foil",
    base: Annotated[
        str,
        typer.Option(help=T_("The method to start the next trial from: 'pit=121 °C, wrap=paper'.")),
    ] = "",
    goals: Annotated[
        str, typer.Option(help=T_("Of yield, tenderness, crust, cap, time; with commas."))
    ] = "yield,tenderness,crust,time",
    worthwhile: Annotated[
        str, typer.Option(help=T_("Differences in yield and time that matter, with a comma."))
    ] = "2 points,1 h",
    most: Annotated[int, typer.Option(help=T_("The largest number of pairs to look at."))] = 6,
    halves: Annotated[
        bool, typer.Option("--halves/--whole", help=T_("Pairs are halves of one piece, or not."))
    ] = False,
    price_piece: Annotated[float | None, typer.Option(help=T_("Of one piece."))] = None,
    price_cook: Annotated[
        float | None, typer.Option(help=T_("Of one cook: fuel, a night."))
    ] = None,
    currency: Annotated[str, typer.Option(help=T_("Written behind sums."))] = "",
    sure: Annotated[
        float, typer.Option(help=T_("Share of draws from which a method is beaten."))
    ] = 0.9,
    methods: Annotated[int, typer.Option(help=T_("How many methods to cook."))] = 200,
    draws: Annotated[int, typer.Option(help=T_("Draws of what is not known, on one column."))] = 40,
    whole_draws: Annotated[int, typer.Option(help=T_("How many of them on the whole body."))] = 4,
    seed: Annotated[int, typer.Option(min=0, help=T_("The same seed, the same numbers."))] = 1,
    altitude: Annotated[str, typer.Option(help=T_("Above the sea: '1600 m'."))] = "",
    room: Annotated[str, typer.Option(help=T_("Air outside the cooker."))] = "20 °C",
    workers: Annotated[
        int | None, typer.Option(min=1, help=T_("Threads; all cores when left out."))
    ] = None,
    results: Annotated[
        Path | None,
        typer.Option(help=T_("Folder of what was run; the user's cache when left out.")),
    ] = None,
    afresh: Annotated[
        bool, typer.Option("--afresh", help=T_("Cook again what was cooked."))
    ] = False,
    chart: Annotated[
        Path | None, typer.Option(help=T_("Draw it too: a name in .png, .svg or .pdf."))
    ] = None,
    units: UnitsOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say which method is worth trying, and which knob the next trial should turn.

    Cooks many methods in the simulator. Ctrl-C stops it; the same command goes on from there.
    """
    from fairsmoke.answers.store import usual_folder
    from fairsmoke.answers.worth_trying import ask_for, cook_all, measures_of, space_of, way_of
    from fairsmoke.planning.methods.choice import check_goals, tell_of
    from fairsmoke.planning.size.cost import Prices
    from fairsmoke.planning.size.how_many import Means
    from fairsmoke.planning.size.repeats import Block
    from fairsmoke.quantity import Units
    from fairsmoke.telling.chart_style import form_of
    from fairsmoke.telling.worth_trying import tried_json, tried_text

    if chart is not None:
        form_of(chart)
    wanted = tuple(part.strip() for part in goals.split(",") if part.strip())
    check_goals(wanted, sure)
    measures = measures_of(worthwhile)
    block = Block(from_one="parent" if halves else "")
    means = Means(block=block, most=most, prices=Prices(price_piece, price_cook, None, currency))
    sizes = {
        "cut": cut,
        "mass": mass,
        "length": length,
        "width": width,
        "thick": thick,
        "thin": thin,
        "fat_cap": fat_cap,
        "start": start,
    }
    spans = {
        "pit": pit,
        "wrap-at": wrap_at,
        "until": until,
        "hold": hold,
        "hold-for": hold_for,
    }
    asked = ask_for(
        sizes,
        space_of(spans, wraps=wraps, pan=pan, hold_wrap=hold_wrap),
        way_of(base),
        kitchen={"altitude": altitude, "room": room},
        methods=methods,
        members=draws,
        whole=whole_draws,
        seed=seed,
    )
    with far_along("Methods") as tell:
        found = cook_all(
            asked,
            results or usual_folder(),
            workers=workers,
            progress=tell,
            afresh=afresh,
        )
    if not found.complete:
        raise stopped(f"{int(found.done.sum())} of {found.done.size} methods are kept.")
    told = tell_of(asked, found, measures, means, wanted, sure)
    shown = Units.named(units or "metric")
    show_json(tried_json(told)) if as_json else say(tried_text(told, shown))
    if chart is not None:
        from fairsmoke.telling.worth_trying_chart import write_worth_chart

        write_worth_chart(told, chart, shown)
        if not as_json:
            say(f"Drawn: {chart}")
