"""Bring records in and out: ``read``, ``write``, ``look``, ``take-in``."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fairsmoke.cli.doubted import InsistOption, rows_asked_about
from fairsmoke.cli.progress import far_along
from fairsmoke.cli.screen import (
    DEFAULT_NOTEBOOK,
    NEEDS_ANSWER,
    ByOption,
    JsonOption,
    NotebookOption,
    TrialOption,
    WhyOption,
    at_keyboard,
    opened,
    out,
    pairs,
    said,
    say,
    show_json,
    table,
    trial_meant,
)
from fairsmoke.messages.errors import message_of
from fairsmoke.messages.message import N_, T_

if TYPE_CHECKING:
    from fairsmoke.arriving.take_in import Taken
    from fairsmoke.cli.file_layout import LayoutOptions
    from fairsmoke.notebook import Notebook

MappingOutOption = Annotated[
    Path | None,
    typer.Option("--mapping-out", help=T_("Write the layout found there, to be mended by hand.")),
]


def read(
    folder: Annotated[Path, typer.Argument(help=T_("A folder written by hand, or by 'write'."))],
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    why: WhyOption = "",
    by: ByOption = "",
    insist: InsistOption = False,
) -> None:
    """Read a folder of YAML and CSV into a notebook, which is started if there is none."""
    from functools import partial

    from fairsmoke.arriving.folder_rows import asking_about
    from fairsmoke.notebook.folder.transfer import import_folder, notebook_of_folder

    around = asking_about(partial(rows_asked_about, insist=insist))
    if notebook.exists():
        with opened(notebook) as book:
            came = import_folder(book, folder, why=why, by=by, around=around)
        say(
            N_(
                "%(records)s records are new or changed, %(readings)s readings and "
                "%(photos)s photos are new.",
                records=came.records,
                readings=came.readings,
                photos=came.photos,
            )
        )
    else:
        notebook_of_folder(notebook, folder, by=by, around=around).close()
        say(N_("Started %(notebook)s from %(folder)s.", notebook=notebook, folder=folder))
    say(N_("Next: fairsmoke show -n %(notebook)s", notebook=notebook))


def write(
    folder: Annotated[Path, typer.Argument(help=T_("The folder to write."))],
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
) -> None:
    """Write the notebook, or one trial, as a folder of open files that reads back the same."""
    from fairsmoke.notebook.folder.transfer import export_notebook, export_trial

    with opened(notebook) as book, far_along(N_("Writing the folder")):
        if trial:
            export_trial(book, trial_meant(book, trial), folder)
        else:
            export_notebook(book, folder)
    say(N_("Written: %(folder)s", folder=folder))


def look(
    file: Annotated[Path, typer.Argument(help=T_("A logger's file."))],
    mapping_out: MappingOutOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say how a logger's file seems to be laid out, and what only a person can tell."""
    from fairsmoke.cli.file_layout import recognised
    from fairsmoke.cli.layouts import check_is_new, show_recognition, write_mapping
    from fairsmoke.telling.plain_data import plain

    check_is_new(mapping_out)
    found = recognised(file)
    if mapping_out is not None:
        write_mapping(mapping_out, found.mapping, {})
    if as_json:
        content = {"mapping": found.mapping.to_dict(), "layout": found.layout}
        show_json(
            {
                **content,
                "decisions": plain(found.decisions),
                "questions": plain(found.questions),
                "preview": plain(found.preview),
            }
        )
        return
    show_recognition(found)
    if mapping_out is not None:
        say(
            N_(
                "Written: %(mapping_out)s; mend it, then say --mapping %(mapping_out)s "
                "to 'take-in'.",
                mapping_out=mapping_out,
            )
        )


def take_in(
    file: Annotated[Path, typer.Argument(help=T_("A logger's file."))],
    cook: Annotated[str, typer.Option(help=T_("The cook whose readings it holds."))],
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    answer: Annotated[
        list[str] | None,
        typer.Option(
            help=T_(
                "Answer a question of 'look': date_order=day-month-year, unit=°F, "
                "zone=Europe/London."
            )
        ),
    ] = None,
    probe: Annotated[
        list[str] | None,
        typer.Option(
            help=T_("Which probe a name in the file is: 'Meat 1=core-1'; 'Meat 3=' none.")
        ),
    ] = None,
    mapping: Annotated[
        Path | None, typer.Option(help=T_("A YAML file that says how the file is laid out."))
    ] = None,
    mapping_out: MappingOutOption = None,
    starts: Annotated[
        str, typer.Option("--start", help=T_("When a log of elapsed times began, local time."))
    ] = "",
    yes: Annotated[bool, typer.Option("--yes", help=T_("Take the layout as recognised."))] = False,
    anyway: Annotated[
        bool,
        typer.Option("--anyway", help=T_("Take it in though it hardly belongs to the cook.")),
    ] = False,
    why: WhyOption = "",
    by: ByOption = "",
    as_json: JsonOption = False,
) -> None:
    """Take a logger's file in; its layout is confirmed once, the same file twice adds nothing.

    Its probes must be recorded first: 'fairsmoke add-probe', or Kitchen in the app.
    """
    from fairsmoke.cli.file_layout import LayoutOptions, start_of
    from fairsmoke.cli.layouts import check_is_new, mapping_of
    from fairsmoke.telling.plain_data import plain

    check_is_new(mapping_out)
    answers = pairs(answer or [], N_("the answer"))
    told = LayoutOptions(
        answers={about: text for about, text in answers.items() if about != "start"},
        probes=pairs(probe or [], N_("the probe")),
        start=start_of(starts or answers.get("start", "")),
        mapping=mapping_of(mapping) if mapping else None,
        yes=yes,
        mapping_out=mapping_out,
    )
    with opened(notebook) as book:
        owner = trial_meant(book, trial)
        ask = at_keyboard() and not as_json
        taken = _taken(book, owner, cook, file, told, ask=ask, anyway=anyway, why=why, by=by)
    if taken is None:
        raise typer.Exit(NEEDS_ANSWER)
    if as_json:
        show_json({**plain(taken), "source": taken.source.model_dump(mode="json")})
    else:
        _show_taken(taken, notebook)


def _taken(
    book: "Notebook",
    trial: str,
    cook: str,
    file: Path,
    told: "LayoutOptions",
    *,
    ask: bool,
    anyway: bool,
    why: str,
    by: str,
) -> "Taken | None":
    """Take a file in, None when something is left to be answered."""
    from fairsmoke.arriving.doubts import DoubtError
    from fairsmoke.arriving.known_layouts import check_not_struck, known_answer
    from fairsmoke.arriving.take_in import LayoutAnswer
    from fairsmoke.arriving.take_in import take_in as take_in_file
    from fairsmoke.cli.file_layout import Home, agrees, answer_for
    from fairsmoke.trial.cook import Cook
    from fairsmoke.trial.probe import Probe

    def known(layout: str) -> LayoutAnswer | None:
        check_not_struck(book, layout, why)
        return known_answer(book, layout)

    home = Home(book.get(Cook, cook, trial=trial), book.list(Probe), known)
    settled = answer_for(file, told, home, ask=ask)
    if settled is None:
        return None
    answer, read = settled
    data = file.read_bytes()

    def take(anyway: bool) -> "Taken":
        return take_in_file(
            book,
            trial,
            cook,
            data,
            file.name,
            answer,
            by=by,
            why=why,
            anyway=anyway,
            found=read,
        )

    try:
        return take(anyway)
    except DoubtError as error:
        if not ask:
            raise
        say(N_("%(error)s.", error=message_of(error)))
        return take(True) if agrees(N_("Take it in all the same?"), default="no") else None


def _show_taken(taken: "Taken", notebook: Path) -> None:
    source = taken.source
    book = "" if notebook == DEFAULT_NOTEBOOK else f" -n {notebook}"
    wrong = N_(
        "Wrong? fairsmoke strike source %(source)s%(book)s --why '…', then take "
        "the file in again with what is right and --why '…'.",
        source=source.id,
        book=book,
    )
    if taken.already:
        say(
            N_(
                "%(file)s was taken in before, as %(source)s; nothing was added.",
                file=source.file_name,
                source=source.id,
            )
        )
        say(wrong)
        return
    shown = table(
        N_("probe"),
        N_("in the file"),
        N_("new"),
        N_("there already"),
        N_("conflicting"),
        N_("no value"),
        N_("unplugged"),
        N_("flags"),
    )
    for one in taken.probes:
        flags = ", ".join(f"{many} {said(_FLAG_WORDS[name])}" for name, many in one.flagged.items())
        counts = (one.new, one.repeated, one.conflicting, one.no_value, one.open_probe)
        shown.add_row(
            one.probe, one.file_name, *(f"{count:,}" for count in counts), flags or said(N_("none"))
        )
    out.print(shown)
    say(
        N_(
            "%(rows_read)s rows: %(rows_good)s read, %(rows_bad)s not, %(rows_blank)s blank.",
            rows_read=source.rows_read,
            rows_good=source.rows_good,
            rows_bad=source.rows_bad,
            rows_blank=source.rows_blank,
        )
    )
    for row in source.bad_rows[:_BAD_ROWS_SHOWN]:
        say(N_("  line %(line)s: %(why)s: %(row)r", line=row.line, why=row.why, row=row.text[:80]))
    if len(source.bad_rows) > _BAD_ROWS_SHOWN:
        say(
            N_(
                "  … and %(bad_rows)s more (--json shows all)",
                bad_rows=len(source.bad_rows) - _BAD_ROWS_SHOWN,
            )
        )
    for note in taken.notes:
        say(note)
    if taken.layout_was_new:
        say(N_("Files laid out like this one will be taken in without a question from now on."))
    say(N_("Taken in as %(source)s. %(wrong)s", source=source.id, wrong=wrong))


_BAD_ROWS_SHOWN = 10

_FLAG_WORDS = {
    "GAP_BEFORE": N_("after a gap"),
    "STUCK": N_("stuck"),
    "OPEN_PROBE": N_("open probe"),
    "JUMP": N_("jumped"),
    "CONFLICT": N_("in conflict"),
    "CLOCK_STEP": N_("after the clock went back"),
    "LEFT_OUT": N_("left out"),
}
