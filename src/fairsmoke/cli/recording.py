"""Bring records in and out: ``read``, ``write``, ``look``, ``take-in``."""

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.progress import Progress

from fairsmoke.cli.screen import (
    DEFAULT_NOTEBOOK,
    NEEDS_ANSWER,
    ByOption,
    JsonOption,
    NotebookOption,
    TrialOption,
    WhyOption,
    err,
    opened,
    out,
    pairs,
    say,
    show_json,
    table,
    trial_meant,
)
from fairsmoke.jobs.errors import JobError

if TYPE_CHECKING:
    from fairsmoke.jobs.take_in import Taken


def read(
    folder: Annotated[Path, typer.Argument(help="A folder written by hand, or by 'write'.")],
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    why: WhyOption = "",
    by: ByOption = "",
) -> None:
    """Read a folder of YAML and CSV into a notebook, which is started if there is none."""
    from fairsmoke.notebook.folder import import_folder, notebook_of_folder

    if notebook.exists():
        with opened(notebook) as book:
            came = import_folder(book, folder, why=why, by=by)
        say(f"{came.records:,} records are new or changed, {came.readings:,} readings are new.")
    else:
        notebook_of_folder(notebook, folder, by=by).close()
        say(f"Started {notebook} from {folder}.")
    say(f"Next: fairsmoke show -n {notebook}")


def write(
    folder: Annotated[Path, typer.Argument(help="The folder to write.")],
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
) -> None:
    """Write the notebook, or one trial, as a folder of open files that reads back the same."""
    from fairsmoke.notebook.folder import export_notebook, export_trial

    with opened(notebook) as book:
        if trial:
            export_trial(book, trial_meant(book, trial), folder)
        else:
            export_notebook(book, folder)
    say(f"Written: {folder}")


def look(
    file: Annotated[Path, typer.Argument(help="A logger's file.")],
    as_json: JsonOption = False,
) -> None:
    """Say how a logger's file seems to be laid out, and what only a person can tell."""
    from fairsmoke.cli.asking import show_recognition
    from fairsmoke.intake.recognise import recognise
    from fairsmoke.telling.as_json import plain

    found = recognise(file.read_bytes())
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


def take_in(
    file: Annotated[Path, typer.Argument(help="A logger's file.")],
    cook: Annotated[str, typer.Option(help="The cook whose readings it holds.")],
    trial: TrialOption = "",
    notebook: NotebookOption = DEFAULT_NOTEBOOK,
    answer: Annotated[
        list[str] | None,
        typer.Option(help="Answer a question of 'look': date_order=day-month-year, unit=degF."),
    ] = None,
    probe: Annotated[
        list[str] | None,
        typer.Option(help="Which probe a name in the file is: 'Meat 1=core-1'; 'Meat 3=' none."),
    ] = None,
    mapping: Annotated[
        Path | None, typer.Option(help="A YAML file that says how the file is laid out.")
    ] = None,
    starts: Annotated[
        str, typer.Option("--start", help="When a log of elapsed times began, local time.")
    ] = "",
    yes: Annotated[bool, typer.Option("--yes", help="Take the layout as recognised.")] = False,
    by: ByOption = "",
    as_json: JsonOption = False,
) -> None:
    """Take a logger's file in; its layout is confirmed once, the same file twice adds nothing."""
    from fairsmoke.cli.asking import answer_for, mapping_of
    from fairsmoke.intake.recognise import recognise
    from fairsmoke.jobs.take_in import Answer, known_answer
    from fairsmoke.jobs.take_in import take_in as take_in_file
    from fairsmoke.telling.as_json import plain

    data = file.read_bytes()
    with opened(notebook) as book:
        owner = trial_meant(book, trial)
        answers, probes = pairs(answer or [], "the answer"), pairs(probe or [], "the probe")
        if mapping is not None:
            found: Answer | None = Answer(mapping_of(mapping), probes)
        else:
            known = known_answer(book, recognise(data).layout)
            found = answer_for(data, known, answers, probes, yes=yes)
        if found is None:
            raise typer.Exit(NEEDS_ANSWER)
        if starts:
            found = Answer(found.layout, found.probes, _start(starts))
        with Progress(console=err, transient=True) as progress:
            task = progress.add_task("Reading", total=None)
            taken = take_in_file(
                book,
                owner,
                cook,
                data,
                file.name,
                found,
                by=by,
                progress=lambda done, of: progress.update(task, completed=done, total=of),
            )
    show_json(plain(taken)) if as_json else _show_taken(taken)


def _start(text: str) -> datetime:
    try:
        return datetime.fromisoformat(text)
    except ValueError as error:
        raise JobError(f"--start {text!r}: write it as '2026-05-02 18:30'") from error


def _show_taken(taken: "Taken") -> None:
    source = taken.source
    if taken.already:
        say(f"{source.file_name} was taken in before; nothing was added.")
        return
    shown = table(
        "probe", "in the file", "new", "there already", "conflicting", "no value", "flags"
    )
    for one in taken.probes:
        flags = ", ".join(f"{many} {_FLAG_WORDS[name]}" for name, many in one.flagged.items())
        counts = (one.new, one.repeated, one.conflicting, one.no_value)
        shown.add_row(
            one.probe, one.file_name, *(f"{count:,}" for count in counts), flags or "none"
        )
    out.print(shown)
    say(
        f"{source.rows_read:,} rows: {source.rows_good:,} read, {source.rows_bad:,} not, "
        f"{source.rows_blank:,} blank."
    )
    for row in source.bad_rows[:_BAD_ROWS_SHOWN]:
        say(f"  line {row.line}: {row.why}: {row.text[:80]!r}")
    if len(source.bad_rows) > _BAD_ROWS_SHOWN:
        say(f"  … and {len(source.bad_rows) - _BAD_ROWS_SHOWN:,} more (--json shows all)")
    for note in taken.notes:
        say(note)
    if taken.layout_was_new:
        say("Files laid out like this one will be taken in without a question from now on.")


_BAD_ROWS_SHOWN = 10

_FLAG_WORDS = {
    "GAP_BEFORE": "after a gap",
    "STUCK": "stuck",
    "OPEN_PROBE": "open probe",
    "JUMP": "jumped",
    "CONFLICT": "in conflict",
    "CLOCK_STEP": "after the clock went back",
    "LEFT_OUT": "left out",
}
