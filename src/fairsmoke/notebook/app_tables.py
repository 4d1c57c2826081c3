"""Tables that lie in a notebook's file beside the record, for the programs that serve it.

Who may do what, what was sent and accepted, and pictures. The notebook makes them and brings them
forward with its own, so that one file stays one file; their rules are those programs' business.
People, sessions and tokens are no part of the record: they are not exported and not in its digest.
Pictures go out with a folder and count in the digest (``photos``).
"""

from sqlalchemy import (
    JSON,
    BigInteger,
    Boolean,
    Column,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
)

from fairsmoke.notebook.mapper import Moment
from fairsmoke.notebook.tables import METADATA

__all__ = [
    "ATTACHMENT",
    "BATCH",
    "CHANNEL",
    "DEVICE",
    "ENTRY",
    "LINK",
    "METADATA",
    "PERSON",
    "SESSION",
    "SETTING",
    "STREAM",
    "WAITING_READING",
    "WATCH",
]

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

CHANNEL = Table(
    "channel",
    METADATA,
    Column("id", Integer, primary_key=True),
    # How it comes in ("device", "mqtt", "file"), who sends it, and what they call it.
    Column("way", Text, nullable=False),
    Column("whose", Text, nullable=False),
    Column("name", Text, nullable=False),
    # Which probe it is; missing until a person says so.
    Column("probe", Text),
    Column("left_out", Boolean, nullable=False),
    Column("first_at", Moment, nullable=False),
    ForeignKeyConstraint(["probe"], ["probe.id"]),
    UniqueConstraint("way", "whose", "name"),
)

STREAM = Table(
    "stream",
    METADATA,
    # What one channel sent for one cook is one source of the record, which can be struck out.
    Column("trial_id", Text, nullable=False),
    Column("source", Text, nullable=False),
    Column("channel", Integer, nullable=False),
    Column("cook", Text, nullable=False),
    Column("probe", Text, nullable=False),
    Column("began_at", Moment, nullable=False),
    # Set when its readings stand in another source: under another probe, or flagged as a whole.
    Column("ended_at", Moment),
    Column("whole", Boolean, nullable=False),
    PrimaryKeyConstraint("trial_id", "source"),
    ForeignKeyConstraint(["channel"], ["channel.id"]),
    ForeignKeyConstraint(["trial_id", "source"], ["source.trial_id", "source.id"]),
    Index(None, "channel"),
)

WAITING_READING = Table(
    "waiting_reading",
    METADATA,
    # Arrived, and not yet known of which probe or cook; leaves only into the record.
    Column("id", Integer, primary_key=True, autoincrement=True),
    Column("channel", Integer, nullable=False),
    Column("time_ms", BigInteger, nullable=False),
    Column("raw", BigInteger, nullable=False),
    Column("decimals", Integer, nullable=False),
    Column("unit", Text, nullable=False),
    # Why it waits although its probe is known: "clock" when its time cannot be right.
    Column("hold", Text, nullable=False),
    Column("received_at", Moment, nullable=False),
    ForeignKeyConstraint(["channel"], ["channel.id"]),
    UniqueConstraint("channel", "time_ms", "raw", "decimals", "unit"),
    sqlite_autoincrement=True,
)

BATCH = Table(
    "batch",
    METADATA,
    Column("sender", Text, nullable=False),
    Column("id", Text, nullable=False),
    Column("digest", Text, nullable=False),
    Column("accepted_at", Moment, nullable=False),
    Column("answer", JSON, nullable=False),
    PrimaryKeyConstraint("sender", "id"),
    Index(None, "accepted_at"),
)

WATCH = Table(
    "watch",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("path", Text, nullable=False),
    Column("trial_id", Text, nullable=False),
    Column("cook", Text, nullable=False),
    # How it is read: its layout, its start, and which probe each of its names is.
    Column("answer", JSON, nullable=False),
    Column("made_by", Text, nullable=False),
    Column("made_at", Moment, nullable=False),
    Column("ended_at", Moment),
    ForeignKeyConstraint(["trial_id", "cook"], ["cook.trial_id", "cook.id"]),
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
