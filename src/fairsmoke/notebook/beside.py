"""Tables that lie in a notebook's file beside the record, for the programs that serve it.

Who may do what, what was sent and accepted, and pictures. The notebook makes them and brings them
forward with its own, so that one file stays one file; their rules are those programs' business.
People, sessions and tokens are no part of the record: they are not exported and not in its digest.
"""

from sqlalchemy import (
    JSON,
    Column,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    Table,
    Text,
    UniqueConstraint,
)

from fairsmoke.notebook.mapper import Moment
from fairsmoke.notebook.tables import METADATA

__all__ = ["ATTACHMENT", "DEVICE", "ENTRY", "LINK", "METADATA", "PERSON", "SESSION", "SETTING"]

PERSON = Table(
    "person",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("role", Text, nullable=False),
    # The taster of the record that this person is, when they taste.
    Column("taster", Text),
    # scrypt with its salt and settings in one text; missing: signs in by link only.
    Column("pin", Text),
    Column("preferences", JSON, nullable=False),
    Column("made_at", Moment, nullable=False),
    # People who left keep their row: what they recorded names them.
    Column("left_at", Moment),
    ForeignKeyConstraint(["taster"], ["taster.id"]),
    UniqueConstraint("name"),
)

SESSION = Table(
    "session",
    METADATA,
    # SHA-256 of the cookie: a copy of the notebook lets nobody in.
    Column("token_digest", Text, primary_key=True),
    Column("person", Integer, nullable=False),
    Column("made_at", Moment, nullable=False),
    Column("seen_at", Moment, nullable=False),
    Column("ends_at", Moment, nullable=False),
    Column("what", Text, nullable=False),
    ForeignKeyConstraint(["person"], ["person.id"]),
    Index(None, "person"),
)

LINK = Table(
    "sign_in_link",
    METADATA,
    Column("token_digest", Text, primary_key=True),
    Column("person", Integer, nullable=False),
    Column("made_at", Moment, nullable=False),
    Column("ends_at", Moment, nullable=False),
    Column("used_at", Moment),
    ForeignKeyConstraint(["person"], ["person.id"]),
    Index(None, "person"),
)

DEVICE = Table(
    "device",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("token_digest", Text, nullable=False),
    Column("made_by", Integer, nullable=False),
    Column("made_at", Moment, nullable=False),
    Column("seen_at", Moment),
    Column("ended_at", Moment),
    ForeignKeyConstraint(["made_by"], ["person.id"]),
    UniqueConstraint("name"),
    UniqueConstraint("token_digest"),
)

ENTRY = Table(
    "entry",
    METADATA,
    # The order in which they were accepted.
    Column("number", Integer, primary_key=True, autoincrement=True),
    # Made by whoever sends it; sending it again changes nothing.
    Column("id", Text, nullable=False),
    Column("digest", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("person", Integer),
    Column("device", Integer),
    Column("accepted_at", Moment, nullable=False),
    # What it made, so that a later entry (an undo, a photo) can name it before it has a handle.
    Column("trial_id", Text),
    Column("record_kind", Text),
    Column("record_id", Text),
    Column("answer", JSON, nullable=False),
    ForeignKeyConstraint(["person"], ["person.id"]),
    ForeignKeyConstraint(["device"], ["device.id"]),
    UniqueConstraint("id"),
    Index(None, "trial_id", "record_kind", "record_id"),
    sqlite_autoincrement=True,
)

ATTACHMENT = Table(
    "attachment",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("trial_id", Text, nullable=False),
    Column("event", Text, nullable=False),
    Column("sha256", Text, nullable=False),
    Column("media_type", Text, nullable=False),
    Column("size", Integer, nullable=False),
    Column("by", Text, nullable=False),
    Column("added_at", Moment, nullable=False),
    # Last, so that a list of pictures does not read them.
    Column("content", LargeBinary, nullable=False),
    ForeignKeyConstraint(
        ["trial_id", "event"], ["event.trial_id", "event.id"], deferrable=True, initially="DEFERRED"
    ),
    UniqueConstraint("trial_id", "event", "sha256"),
)

SETTING = Table(
    "setting",
    METADATA,
    # What it is for, with slashes between: "watch/trial/cook".
    Column("name", Text, primary_key=True),
    Column("content", JSON, nullable=False),
    Column("by", Text, nullable=False),
    Column("changed_at", Moment, nullable=False),
)
"""How the programs that serve the notebook are set: no part of the record, may be changed."""
