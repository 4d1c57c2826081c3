"""Finds every message in code and templates, and brings the catalogues up to date with them.

``python -m fairsmoke.messages.extract`` after a message was added or changed; then translate what
is new in ``messages/de/LC_MESSAGES/fairsmoke.po``. A message that is left over is dropped.
"""

import ast
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import write_po

from fairsmoke.messages.catalogue import LANGUAGES, SOURCE, catalogue, catalogue_path

PACKAGE = Path(__file__).parents[1]
_METHODS = [("**.py", "python"), ("app/templates/**.html", "jinja2.ext:babel_extract")]
_WORDS = {"N_": None, "NN_": (1, 2), "T_": None, "_": None, "gettext": None, "ngettext": (1, 2)}
_OPTIONS = {"app/templates/**.html": {"trimmed": "true", "silent": "false"}}


def used() -> Catalog:
    """Return every message that is used, with where it stands."""
    catalog = Catalog(project="Fairsmoke", version="", copyright_holder="", fuzzy=False)
    found = extract_from_dir(
        str(PACKAGE), method_map=_METHODS, options_map=_OPTIONS, keywords=_WORDS, comment_tags=()
    )
    for file, _line, message, comments, context in found:
        # Without line numbers, which would change with everything.
        catalog.add(message, None, [(file, 0)], auto_comments=comments, context=context)
    for file, message in nested():
        catalog.add(message, None, [(file, 0)])
    for file, text in command_helps():
        catalog.add(text, None, [(file, 0)])
    return catalog


def nested() -> Iterator[tuple[str, str | tuple[str, str]]]:
    """Yield every message of the code with its file, also those within another message's values.

    Babel's own reader passes over a call within a call within a call.
    """
    for path in sorted(PACKAGE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name)):
                continue
            texts = [
                one.value
                for one in node.args[: 2 if node.func.id == "NN_" else 1]
                if isinstance(one, ast.Constant) and isinstance(one.value, str)
            ]
            file = str(path.relative_to(PACKAGE))
            if node.func.id == "NN_" and len(texts) == 2:
                yield file, (texts[0], texts[1])
            elif node.func.id in ("N_", "T_") and texts:
                yield file, texts[0]


def command_helps() -> Iterator[tuple[str, str]]:
    """Yield the help text of each command of the shell with its file: its function's docstring.

    Read from the source, for this room knows nothing of the command line.
    """
    commands = ast.parse((PACKAGE / "cli" / "commands.py").read_text(encoding="utf-8"))
    for node in ast.walk(commands):
        is_command = (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Call)
            and ast.unparse(node.func.func) == "app.command"
        )
        if not is_command:
            continue
        assert isinstance(node, ast.Call)
        place, name = ast.unparse(node.args[0]).split(".")
        file = f"cli/{_module_called(commands, place)}.py"
        for one in ast.parse((PACKAGE / file).read_text(encoding="utf-8")).body:
            if isinstance(one, ast.FunctionDef) and one.name == name:
                yield file, ast.get_docstring(one) or ""


def _module_called(tree: ast.Module, name: str) -> str:
    for node in tree.body:
        if isinstance(node, ast.ImportFrom) and node.module == "fairsmoke.cli":
            for one in node.names:
                if (one.asname or one.name) == name:
                    return one.name
    raise ValueError(f"commands.py imports no module as {name!r}")


def main() -> None:
    """Bring the catalogue of each language up to date."""
    wanted = used()
    for language in LANGUAGES:
        if language == SOURCE:
            continue
        path = catalogue_path(language)
        if path.exists():
            catalog = catalogue(language)
        else:
            catalog = Catalog(locale=language, project="Fairsmoke", version="", fuzzy=False)
        catalog.update(wanted, no_fuzzy_matching=True)
        catalog.obsolete.clear()
        path.parent.mkdir(parents=True, exist_ok=True)
        written = BytesIO()
        write_po(written, catalog, width=100, no_location=True, sort_output=True)
        # Without the moment of writing, over which two branches would always quarrel.
        lines = written.getvalue().splitlines(keepends=True)
        path.write_bytes(b"".join(line for line in lines if b"-Date: " not in line))
        missing = [str(m.id) for m in catalog if m.id and not m.string]
        print(f"{language}: {len(catalog)} messages, {len(missing)} to translate")


if __name__ == "__main__":
    main()
