"""Every answer of the API is one that its description knows, whatever is sent (Schemathesis)."""

import schemathesis
from fastapi import FastAPI
from hypothesis import HealthCheck, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from tests.app.clients import Client

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
EXAMPLES = 60


def held_against(app: FastAPI, client: Client | None) -> int:
    """Send what the description allows, and what it does not, to every operation."""
    schema = schemathesis.openapi.from_dict(app.openapi())
    schema.app = app
    sent = 0
    headers = {}
    if client is not None:
        cookie = f"fairsmoke={client.cookies['fairsmoke']}"
        headers = {"X-CSRF-Token": client.csrf_token, "Cookie": cookie}
    for result in schema.get_all_operations():
        operation = result.ok()  # type: ignore[union-attr]
        strategy = operation.as_strategy() | operation.as_strategy(
            generation_mode=schemathesis.GenerationMode.NEGATIVE
        )

        @settings(
            max_examples=EXAMPLES,
            deadline=None,
            derandomize=True,
            database=None,
            suppress_health_check=list(HealthCheck),
        )
        @given(case=strategy)
        def each(case) -> None:  # type: ignore[no-untyped-def]
            nonlocal sent
            sent += 1
            case.call_and_validate(base_url="http://127.0.0.1", headers=headers, checks=CHECKS)

        each()
    return sent


def test_signed_in(app: FastAPI, cook: Client) -> None:
    assert held_against(app, cook) > 3 * EXAMPLES


def test_signed_out(app: FastAPI) -> None:
    assert held_against(app, None) > 100
