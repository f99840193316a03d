"""The schema says what the API does, and its page is made of the house's own files."""

import json
import re
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.core.management import call_command
from django.test import Client

from curehouse.workshops.services.brake import TOKEN
from tests.api.device import Device, problem
from tests.api.test_problems import PATHS, methods
from tests.world import PASSWORD, World


def test_the_schema_is_written_without_a_warning(tmp_path: Path) -> None:
    call_command("spectacular", file=str(tmp_path / "schema.yml"), validate=True, fail_on_warn=True)


@pytest.fixture
def schema(device: Device) -> dict:
    """Return the schema as a device gets it."""
    answer = device.client.get("/api/schema/", headers={"Accept": "application/vnd.oai.openapi+json"})
    assert answer.status_code == 200
    return json.loads(answer.content)


def test_the_schema_knows_every_address_and_method(schema: dict) -> None:
    assert schema["openapi"].startswith("3.")
    described = {path: set(operations) for path, operations in schema["paths"].items()}
    assert described == {path.replace("<int:pk>", "{id}"): methods(path) for path in PATHS}


def test_every_operation_is_refused_by_a_problem(schema: dict) -> None:
    for operations in schema["paths"].values():
        for operation in operations.values():
            assert list(operation["responses"]["default"]["content"]) == ["application/problem+json"]
            assert operation["description"].strip()
            assert operation["security"]


def test_wherever_a_token_is_looked_at_it_is_said_that_it_may_not_be(schema: dict) -> None:
    for path, operations in schema["paths"].items():
        for method, operation in operations.items():
            assert {"deviceToken": []} in operation["security"]
            braked = operation["responses"]["429"]
            assert list(braked["content"]) == ["application/problem+json"], (path, method)
            assert braked["headers"]["Retry-After"]["required"], (path, method)


def test_a_token_that_is_not_looked_at_is_answered_as_described(world: World, schema: dict) -> None:
    client = Client(headers={"Authorization": "Bearer ch_guess"})
    for _ in range(TOKEN.tries):
        assert client.get("/api/v1/workshop/").status_code == 401
    answer = client.get("/api/v1/workshop/")
    described = schema["paths"]["/api/v1/workshop/"]["get"]["responses"][str(answer.status_code)]
    assert list(described["content"]) == [answer.headers["Content-Type"]]
    assert set(described["headers"]) == {"Retry-After"}
    assert int(answer.headers["Retry-After"]) >= described["headers"]["Retry-After"]["schema"]["minimum"]


def test_every_post_is_described_with_its_key(schema: dict) -> None:
    for path, operations in schema["paths"].items():
        for method, operation in operations.items():
            headers = [one["name"] for one in operation.get("parameters", ()) if one["in"] == "header"]
            assert headers == (["Idempotency-Key"] if method == "post" else []), (path, method)


def test_a_filter_of_yes_or_no_is_described_as_such(schema: dict) -> None:
    for path in ("/api/v1/scales/", "/api/v1/lots/", "/api/v1/sample-bars/"):
        flags = [one for one in schema["paths"][path]["get"]["parameters"] if one["name"] in ("in_use", "in_stock", "weighed")]
        assert [one["schema"] for one in flags] == [{"type": "boolean"}], path


def test_a_firmness_that_was_not_told_is_described(schema: dict) -> None:
    told = schema["components"]["schemas"]["ReadingOut"]["properties"]["firmness"]["oneOf"]
    assert {"$ref": "#/components/schemas/BlankEnum"} in told


def test_the_hour_of_the_morning_is_described_as_it_is_sent(schema: dict, device: Device) -> None:
    described = schema["components"]["schemas"]["WorkshopOut"]["properties"]["morning_at"]
    assert re.fullmatch(described["pattern"], device.get("workshop/").json()["morning_at"])
    assert "format" not in described


def test_masses_are_strings_and_moments_carry_their_format(schema: dict) -> None:
    made = schema["components"]["schemas"]["ReadingOut"]["properties"]
    assert made["weight_g"]["type"] == "string"
    assert made["moment"]["format"] == "date-time"


def test_what_is_written_in_rows_is_answered_as_a_list(schema: dict) -> None:
    for path in ("/api/v1/sample-bars/", "/api/v1/placements/", "/api/v1/placements/move/"):
        answer = schema["paths"][path]["post"]["responses"]["201"]["content"]["application/json"]["schema"]
        assert answer["type"] == "array", path


def test_the_schema_is_for_members_only(world: World) -> None:
    problem(Client().get("/api/schema/"), 401, "not_authenticated")


def test_the_page_asks_for_sign_in(world: World) -> None:
    answer = Client().get("/api/docs/")
    assert answer.status_code == 302
    assert answer["Location"].endswith("?next=/api/docs/")


def test_the_page_loads_nothing_from_elsewhere_and_has_nothing_inline(world: World) -> None:
    client = Client()
    client.login(username=world.email, password=PASSWORD)
    answer = client.get("/api/docs/")
    page = answer.content.decode()
    assert answer.status_code == 200
    sources = re.findall(r'(?:src|href)="([^"]+)"', page)
    assert sources
    assert all(source.startswith("/") and not source.startswith("//") for source in sources)
    for source in sources:
        if source.startswith("/static/"):
            assert finders.find(source.removeprefix("/static/")), source
    assert not re.search(r"<style|<script(?![^>]*src=)|style=|\son\w+=", page)
