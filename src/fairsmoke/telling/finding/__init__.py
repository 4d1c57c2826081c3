"""The finding told once: a document of messages that terminal, page and print all set."""

from fairsmoke.telling.finding.document import (
    FindingDocument,
    finding_document,
    for_terminal,
)

__all__ = ["FindingDocument", "finding_document", "for_terminal"]
