"""Reading any logger's file: bytes in, the readings of each probe and every odd row out.

``recognise`` proposes how a file is laid out, a person confirms or mends the ``Mapping`` once per
layout, ``read`` reads by it, ``flag_readings`` marks what cannot be true, ``new_only`` leaves away
what is already there.
"""

from fairsmoke.intake.flags import ProbeKind, flag_readings
from fairsmoke.intake.layout import FileColumn, Mapping, layout_digest
from fairsmoke.intake.merge import Merge, new_only
from fairsmoke.intake.read import LoggerFile, read
from fairsmoke.intake.recognise import Decision, Question, Recognition, recognise
from fairsmoke.intake.series import ProbeSeries
from fairsmoke.intake.text import IntakeError, UnusableRow

__all__ = [
    "Decision",
    "FileColumn",
    "IntakeError",
    "LoggerFile",
    "Mapping",
    "Merge",
    "ProbeKind",
    "ProbeSeries",
    "Question",
    "Recognition",
    "UnusableRow",
    "flag_readings",
    "layout_digest",
    "new_only",
    "read",
    "recognise",
]
