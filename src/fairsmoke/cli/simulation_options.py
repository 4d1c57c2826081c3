"""Options that the commands which simulate share, as records."""

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from fairsmoke.cli.finding import UnitsOption
from fairsmoke.cli.progress import far_along
from fairsmoke.cli.screen import JsonOption, reader_here, say
from fairsmoke.messages.message import N_, T_

if TYPE_CHECKING:
    from collections.abc import Callable

    from fairsmoke.telling.chart_style import Drawable
    from fairsmoke.telling.reader import Reader

Air = Literal["still", "draught", "fan"]
Humid = Literal["none", "water pan", "steam", "spritz"]


@dataclass(frozen=True)
class PieceOptions:
    """A piece as it is measured."""

    cut: Annotated[str, typer.Option(help=T_("brisket, pork shoulder …"))] = ""
    mass: Annotated[str, typer.Option(help=T_("Trimmed: '5.6 kg', '12 lb 4 oz'."))] = ""
    length: Annotated[str, typer.Option(help=T_("'42 cm', '16 in'."))] = ""
    width: Annotated[str, typer.Option(help=T_("Its width."))] = ""
    thick: Annotated[str, typer.Option(help=T_("Where it is thickest."))] = ""
    thin: Annotated[str, typer.Option(help=T_("Where it is thinnest; usual when left out."))] = ""
    fat_cap: Annotated[str, typer.Option(help=T_("Of the cap; usual when left out."))] = ""
    start: Annotated[str, typer.Option(help=T_("Its temperature when it goes on."))] = "4 °C"

    @property
    def said(self) -> dict[str, str]:
        """The piece as in a simulation's file."""
        return asdict(self)


@dataclass(frozen=True)
class KitchenOptions:
    """The place."""

    altitude: Annotated[str, typer.Option(help=T_("Above the sea: '1600 m'."))] = ""
    room: Annotated[str, typer.Option(help=T_("Air outside the cooker."))] = "20 °C"

    @property
    def said(self) -> dict[str, str]:
        """The place as in a simulation's file."""
        return asdict(self)


@dataclass(frozen=True)
class RunOptions:
    """How it is run, and how the answer is shown."""

    seed: Annotated[int, typer.Option(min=0, help=T_("The same seed, the same numbers."))] = 1
    workers: Annotated[
        int | None, typer.Option(min=1, help=T_("Threads; all cores when left out."))
    ] = None
    results: Annotated[
        Path | None,
        typer.Option(help=T_("Folder of what was run; the user's cache when left out.")),
    ] = None
    afresh: Annotated[bool, typer.Option("--afresh", help=T_("Run again what was run before."))] = (
        False
    )
    chart: Annotated[
        Path | None, typer.Option(help=T_("Draw it too: a name in .png, .svg or .pdf."))
    ] = None
    units: UnitsOption = None
    as_json: JsonOption = False

    def check(self) -> None:
        """Refuse a chart of no known form, before anybody waits. Raises ChartError."""
        from fairsmoke.telling.chart_style import form_of

        if self.chart is not None:
            form_of(self.chart)

    def how(self, progress: Any) -> dict[str, Any]:
        """Return what a question's `compute` is told."""
        from fairsmoke.answers.store import usual_folder

        return {
            "folder": self.results or usual_folder(),
            "workers": self.workers,
            "progress": progress,
            "afresh": self.afresh,
        }

    def reader(self, usual: str = "metric") -> "Reader":
        """Return who reads the answer; ``usual`` are the units when none were asked for."""
        from fairsmoke.quantity import Units

        return reader_here(Units.named(self.units or usual))

    def draw(self, chart: "Callable[[], Drawable]") -> None:
        """Draw the chart that is made so, where one was asked for."""
        from fairsmoke.telling.chart_style import write_picture

        if self.chart is None:
            return
        with far_along(N_("Drawing")):
            write_picture(chart(), self.chart)
        if not self.as_json:
            say(N_("Drawn: %(file)s", file=str(self.chart)))
