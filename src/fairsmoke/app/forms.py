"""The fields of a form that a page sent, for functions that take whatever it has."""

from typing import Annotated

from fastapi import Depends, Request


async def _fields(request: Request) -> tuple[tuple[str, str], ...]:
    form = await request.form()
    return tuple((name, str(value)) for name, value in form.multi_items() if name != "csrf")


FormFields = Annotated[tuple[tuple[str, str], ...], Depends(_fields)]
"""Name and value of each field, in order, without the mark against forgery.

Page functions stay plain functions, which run in threads: the notebook is not asynchronous.
"""
