"""Which notebook an app serves: a phone that finds another at the same address sends it nothing."""

from uuid import uuid4

from fairsmoke.notebook import Notebook
from fairsmoke.notebook.transaction import set_to, setting

_NAME = "notebook/id"


def notebook_id(book: Notebook) -> str:
    """Return the id of a notebook, made the first time; copies of its file have the same."""
    with book.reading() as connection:
        found = setting(connection, _NAME)
    if found is None:
        with book.transaction() as transaction:
            found = setting(transaction.connection, _NAME) or str(uuid4())
            set_to(transaction, _NAME, found)
    return str(found)
