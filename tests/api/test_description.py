"""The API held against its own description: schemathesis makes requests of the OpenAPI document.

Whatever it sends is answered: never by a fault of the house, always as the description says. The
short form sends a few requests to each operation, the long form (``-m long``) many.
"""

import copy
from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections, transaction
from django.http import HttpResponse
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, given, settings
from rest_framework.response import Response
from schemathesis.checks import not_a_server_error
from schemathesis.core.failures import FailureGroup
from schemathesis.generation import GenerationMode
from schemathesis.schemas import APIOperation, BaseSchema
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from curehouse.workshops.services import give_token
from tests.api.test_problems import PATHS, methods
from tests.architecture.addresses import NAMED_BY
from tests.everything import row_of, with_everything
from tests.world import World

OPERATIONS = [(path.replace("<int:pk>", "{id}"), method) for path in PATHS for method in sorted(methods(path))]
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]
NOBODY = 987654321


@cache
def description() -> dict[str, Any]:
    """Return the OpenAPI document."""
    return SchemaGenerator().get_schema(request=None, public=True)


def at_home(world: World) -> BaseSchema:
    """Return the document, with ids of rows that are here, or of none; read once for all operations, which takes long."""
    document = copy.deepcopy(description())
    for path, operations in document["paths"].items():
        for operation in operations.values():
            for parameter in operation.get("parameters", ()):
                if parameter["in"] == "path":
                    parameter["schema"] = {"type": "integer", "enum": [pk_of(world, path.split("/")[3]), NOBODY]}
    for name, component in document["components"]["schemas"].items():
        if not name.endswith("In"):
            continue
        for field, schema in component["properties"].items():
            if schema.get("type") == "integer" and f"{field}s" in NAMED_BY:
                schema["enum"] = [pk_of(world, f"{field}s"), NOBODY]
    schema = schemathesis.openapi.from_dict(document)
    schema.app = get_wsgi_application()
    return schema


def pk_of(world: World, word: str) -> int:
    return row_of(world, NAMED_BY[word]).pk


@pytest.fixture
def house(world: World) -> Iterator[World]:
    """Return a house with a row of everything; a request leaves its connection open, as Django's own test client does."""
    with_everything(world)
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield world
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


def send_many(world: World, operation: APIOperation, *, examples: int, mode: GenerationMode, alike: bool = True) -> None:
    """Make requests and check what is answered; *alike*: the same ones each time."""
    _token, secret = give_token(actor=world.actor, name="Script", reach="works", at=world.now)

    @settings(max_examples=examples, derandomize=alike, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(case=operation.as_strategy(generation_mode=mode))
    def send(case: schemathesis.Case) -> None:
        with transaction.atomic():
            answer = case.call(headers={"Authorization": f"Bearer {secret}"})
            transaction.set_rollback(True)
        case.validate_response(answer, checks=CHECKS)

    send()


@pytest.mark.parametrize("answer", [Response({"id": "one"}), Response({}, status=418), HttpResponse("<p>"), None])
def test_an_answer_that_is_not_as_described_is_found(
    house: World, answer: Response | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert description()
    monkeypatch.setattr("api.workshop.TheWorkshop.get", lambda *_asked: answer)
    with pytest.raises(FailureGroup):
        send_many(house, at_home(house)["/api/v1/workshop/"]["get"], examples=1, mode=GenerationMode.POSITIVE)


def modes(path: str) -> list[GenerationMode]:
    """Return whether requests are made as described, and also otherwise: a form cannot be sent as anything but one."""
    is_form = path.endswith(("/files/", "/imports/"))
    return [GenerationMode.POSITIVE] if is_form else [GenerationMode.POSITIVE, GenerationMode.NEGATIVE]


def test_every_operation_answers_as_it_is_described(house: World, subtests: pytest.Subtests) -> None:
    # In one house: whatever a request does is taken back.
    document = at_home(house)
    for path, method in OPERATIONS:
        with subtests.test(path=path, method=method):
            for mode in modes(path):
                send_many(house, document[path][method], examples=3, mode=mode)


@pytest.mark.long
@pytest.mark.parametrize(("path", "method"), OPERATIONS)
def test_every_operation_answers_as_it_is_described_however_often(house: World, path: str, method: str) -> None:
    operation = at_home(house)[path][method]
    for mode in modes(path):
        send_many(house, operation, examples=200, mode=mode, alike=False)
