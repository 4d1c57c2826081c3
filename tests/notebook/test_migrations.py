"""Old notebooks are opened by every later version, and the tables are what the program thinks."""

import gzip
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from fairsmoke.notebook import Notebook, NotebookError, schema
from fairsmoke.notebook.engine import engine_on
from fairsmoke.notebook.migrations import run
from fairsmoke.notebook.tables import METADATA

DATA = Path(__file__).parent / "data"


def statements(path: Path) -> dict[str, str]:
    with closing(sqlite3.connect(path)) as connection:
        rows = connection.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL")
        return {name: plain(sql) for name, sql in rows}


def plain(sql: str) -> str:
    """A table made anew by a migration has its name in quotes and its constraints reordered."""
    text = " ".join(sql.split()).replace('"', "").removesuffix(" )")
    columns, *constraints = text.split(", CONSTRAINT ")
    return ", CONSTRAINT ".join([columns, *sorted(constraints)])


def made_by_migrations(path: Path) -> Path:
    sqlite3.connect(path).close()
    run.upgrade(path, "head")
    return path


def test_migrations_make_the_tables_that_the_program_has(tmp_path: Path) -> None:
    migrated = made_by_migrations(tmp_path / "migrated.db")
    Notebook.create(tmp_path / "new.db").close()
    assert statements(migrated) == statements(tmp_path / "new.db")


def test_alembic_finds_no_difference_either(tmp_path: Path) -> None:
    engine = engine_on(made_by_migrations(tmp_path / "migrated.db"))
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), METADATA) == []
    engine.dispose()


def test_versions_are_the_migrations_in_order() -> None:
    script = ScriptDirectory.from_config(run.config_for())
    found = [one.revision for one in script.walk_revisions()]
    assert tuple(reversed(found)) == schema.VERSIONS


def old_notebook(version: str, folder: Path) -> Path:
    path = folder / f"old-{version}.db"
    path.write_bytes(gzip.decompress((DATA / f"version-{version}.db.gz").read_bytes()))
    return path


@pytest.mark.parametrize("version", schema.VERSIONS)
def test_a_notebook_of_every_version_opens(version: str, tmp_path: Path) -> None:
    path = old_notebook(version, tmp_path)
    with Notebook.open(path) as notebook:
        assert notebook.check() == ()
        record = notebook.load_trial("paper-or-bare")
        assert record.problems() == []
        assert [event.kind for event in record.events] == ["on", "wrap", "raise", "pull"]
        assert record.weighings[1].written == "7 lb 6 oz"
        assert record.ballots == ()
        assert record.readings[("first-fire", "pit-1")].value.tolist() == [243, 251, 249, 999]
        wrapped = notebook.history("event", "first-fire-event-2", trial="paper-or-bare")
        assert [(one.number, one.why) for one in wrapped] == [
            (1, ""),
            (2, "read off the wrong clock"),
        ]
    assert schema.version_of(path) == schema.VERSIONS[-1]


LATER = '''
"""A later version, for the tests: a new column, filled in."""
import sqlalchemy as sa
from alembic import op
revision = "0099"
down_revision = "{below}"
def upgrade() -> None:
    with op.batch_alter_table("cook") as batch:
        batch.add_column(sa.Column("tide", sa.Text(), nullable=True))
    op.execute("UPDATE cook SET tide = 'low'")
    {more}
'''


def with_a_later_version(monkeypatch: pytest.MonkeyPatch, folder: Path, more: str = "pass") -> None:
    below = schema.VERSIONS[-1]
    (folder / "later").mkdir()
    (folder / "later" / "0099_later.py").write_text(LATER.format(below=below, more=more))
    places = (Path(run.__file__).parent / "versions", folder / "later")
    upgrade = run.upgrade
    monkeypatch.setattr(schema, "VERSIONS", (*schema.VERSIONS, "0099"))
    monkeypatch.setattr(run, "upgrade", lambda path, version: upgrade(path, version, places))


def test_an_older_notebook_is_copied_and_brought_forward(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = old_notebook("0001", tmp_path)
    with_a_later_version(monkeypatch, tmp_path)
    with Notebook.open(path) as notebook:
        assert notebook.check() == ()
        assert notebook.load_trial("paper-or-bare").cooks[0].name == "First fire"
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("SELECT tide FROM cook").fetchall() == [("low",)]
        # The guards are back.
        with pytest.raises(sqlite3.IntegrityError, match="never deleted"):
            connection.execute("DELETE FROM cook")
    copy = tmp_path / "old-0001.version-0001.db"
    assert statements(copy).keys() == statements(old_notebook("0001", tmp_path)).keys()


def test_a_migration_that_fails_leaves_the_notebook_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = old_notebook("0001", tmp_path)
    before = statements(path)
    with_a_later_version(monkeypatch, tmp_path, more="op.execute('INSERT INTO nowhere VALUES (1)')")
    with pytest.raises(NotebookError, match="nowhere"):
        Notebook.open(path)
    assert statements(path) == before
    assert schema.version_of(path) == "0001"


def test_a_newer_notebook_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "newer.db"
    Notebook.create(path).close()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '7777'")
        connection.commit()
    with pytest.raises(NotebookError, match=r"later Fairsmoke .*7777.*install a newer"):
        Notebook.open(path)


def test_opening_a_present_notebook_imports_no_migration_tool(tmp_path: Path) -> None:
    code = (
        "import sys; from fairsmoke.notebook import Notebook; "
        f"Notebook.create({str(tmp_path / 'a.db')!r}).close(); "
        f"Notebook.open({str(tmp_path / 'a.db')!r}).close(); "
        "print([m for m in ('alembic', 'polars', 'ruamel.yaml', 'pint') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
