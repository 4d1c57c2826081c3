"""Running migrations. The only place that imports Alembic."""

from collections.abc import Sequence
from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection

from fairsmoke.notebook.engine import engine_on
from fairsmoke.notebook.errors import NotebookError
from fairsmoke.notebook.triggers import create_triggers, drop_triggers

_HERE = Path(__file__).parent


def config_for(
    connection: Connection | None = None, versions: Sequence[Path] = (_HERE / "versions",)
) -> Config:
    """Return Alembic's settings for these folders of migrations."""
    config = Config()
    config.set_main_option("script_location", str(_HERE).replace("%", "%%"))
    config.set_main_option("path_separator", "newline")
    places = "\n".join(str(folder) for folder in versions)
    config.set_main_option("version_locations", places.replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def upgrade(path: Path, version: str, versions: Sequence[Path] = (_HERE / "versions",)) -> None:
    """Bring the notebook at a path to a version, wholly or not at all.

    The triggers that guard the past are away while it runs: a migration may fill a new column.
    """
    engine = engine_on(path)
    try:
        with engine.connect() as connection:
            # SQLite rebuilds a table to change it, which foreign keys would refuse; it takes this
            # only outside a transaction.
            connection.connection.driver_connection.execute("PRAGMA foreign_keys = OFF")  # type: ignore[union-attr]
            connection = connection.execution_options(writes=True)
            with connection.begin():
                drop_triggers(connection)
                command.upgrade(config_for(connection, versions), version)
                create_triggers(connection)
                broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
                if broken:
                    raise NotebookError(f"migration to {version} broke references: {broken[:5]}")
    finally:
        engine.dispose()
