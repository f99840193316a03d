"""Whatever is refused is a problem as RFC 9457 lays down, never a page."""

import json
from collections.abc import Iterator
from decimal import Decimal

import pytest
from django.conf import settings
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver

from api.views import WorkshopView
from curehouse.common.uploads import Kept
from curehouse.curing.services.rooms import add_room
from curehouse.flows.bring_in.options import Options
from curehouse.flows.log_air import log_air, sensed
from curehouse.flows.pour import begin
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.intake.services import write_import
from curehouse.making.models import BatchHold
from curehouse.making.services.formulas import write_formula
from curehouse.making.services.runs import plan_run
from curehouse.selling.services import add_market
from inventory.services.movements import count
from inventory.services.orders import write_order
from tests.api.device import V1, Device, problem
from tests.formulas import formula_entry
from tests.world import World

STRANGE_ID = 987654321


def _patterns(resolver: URLResolver, before: str = "/") -> Iterator[tuple[str, URLPattern]]:
    for one in resolver.url_patterns:
        path = before + str(one.pattern)
        if isinstance(one, URLResolver):
            yield from _patterns(one, path)
        elif path.startswith(V1):
            yield path, one


ADDRESSES = dict(_patterns(get_resolver()))
PATHS = sorted(ADDRESSES)
WITH_ID = [path for path in PATHS if "<int:pk>" in path]


def filled(path: str, key: int = STRANGE_ID) -> str:
    return path.replace("<int:pk>", str(key))


def methods(path: str) -> set[str]:
    """Return the methods a view answers, OPTIONS and HEAD aside."""
    view = ADDRESSES[path].callback.cls
    return {
        name for name in ("get", "post", "put", "patch", "delete") if name in view.http_method_names and hasattr(view, name)
    }


def test_the_addresses_are_all_found() -> None:
    assert len(PATHS) > 25
    assert all(issubclass(ADDRESSES[path].callback.cls, WorkshopView) for path in PATHS)


@pytest.mark.parametrize("path", PATHS)
def test_nobody_gets_401_at_every_address(world: World, path: str) -> None:
    for method in methods(path):
        answer = getattr(Client(), method)(filled(path))
        problem(answer, 401, "not_authenticated")
        assert answer["WWW-Authenticate"]


@pytest.mark.parametrize("path", WITH_ID)
def test_an_id_that_is_not_here_gets_404_at_every_address(device: Device, path: str) -> None:
    for method in methods(path):
        for key in (STRANGE_ID, 0, 10**30):
            client = device.client_for(path)
            answer = client.generic(method.upper(), filled(path, key), "{}", content_type="application/json")
            problem(answer, 404, "not_here")


@pytest.mark.parametrize("path", PATHS)
def test_a_method_not_offered_gets_405_at_every_address(device: Device, path: str) -> None:
    for method in {"get", "post", "put", "patch", "delete"} - methods(path):
        answer = device.client_for(path).generic(method.upper(), filled(path), "{}", content_type="application/json")
        problem(answer, 405, "method_not_allowed")
        assert set(answer["Allow"].lower().split(", ")) >= methods(path)


WRITING = [(path, method) for path in PATHS for method in sorted(methods(path) - {"get"})]
# These take no body: there is nothing in it to be wrong.
_BARE = (
    "/keep/", "/attend/", "/retire/", "/take-up/", "/wanted/", "/bringing/", "offers/<int:pk>/end/",
    "store-counts/<int:pk>/end/", V1 + "proposals/", "markets/<int:pk>/call-off/", "runs/<int:pk>/places/",
    "pours/<int:pk>/finish/",
)  # fmt: skip
BARE = {path for path in PATHS if path.endswith(_BARE)}
FORMS = {V1 + "lots/<int:pk>/files/", V1 + "imports/"}


@pytest.fixture
def furnished(world: World) -> dict[str, int]:
    """Return an id that is here, for each kind of thing."""
    rack = world.rack()
    poured = world.batch(cut_days_ago=None)
    batch = world.batch(cut_days_ago=10)
    reading = world.weigh(world.bar(batch), "120.0", moment=batch.cut_at)
    line = UseLine(world.lot(standing="quarantine"), Decimal(1), reason="nothing else was here")
    book_use(actor=world.actor, batch=batch, lines=[line], used_at=world.now, at=world.now)
    counted = world.lot()
    count(actor=world.actor, lot=counted, counted=Decimal(1), moment=world.now, at=world.now, reason="weighed")
    room = add_room(workshop=world.workshop, name="Cellar")
    entry = sensed(world.actor, moment=world.now, humidity_pct=Decimal(60), temperature_c=Decimal(18))
    air, _new = log_air(actor=world.actor, room=room, entry=entry, at=world.now)
    version = write_formula(actor=world.actor, entry=formula_entry(name=poured.formula.name), at=world.now)
    run = plan_run(actor=world.actor, version=version, fats_g=Decimal(1000), pour_on=world.now.date(), at=world.now)
    return {
        "pours": begin(actor=world.actor, version=version, fats_g=Decimal(1000), at=world.now).pk,
        "runs": run.pk,
        "markets": add_market(actor=world.actor, name="Fair", held_on=world.now.date(), at=world.now).pk,
        "rooms": room.pk,
        "room-readings": air.pk,
        "batches": poured.pk,
        "formulas": poured.formula_id,
        "sample-bars": reading.bar_id,
        "readings": reading.pk,
        "racks": rack.pk,
        "positions": world.position(rack).pk,
        "scales": world.scale.pk,
        "lots": (lot := world.lot()).pk,
        "materials": lot.material_id,
        "suppliers": (offer := world.offer()).supplier_id,
        "offers": offer.pk,
        "orders": write_order(actor=world.actor, supplier=offer.supplier, packs={offer.pk: 1}, at=world.now).pk,
        "movements": lot.movements.get().pk,
        "counts": counted.counts.get().pk,
        "imports": write_import(
            actor=world.actor,
            kind="batches",
            name="log.csv",
            kept=Kept("0" * 64, "1" * 64),
            options=Options().to_json(),
            at=world.now,
        ).pk,
        "holds": BatchHold.objects.within(world.workshop).get().pk,
    }


def known(path: str, furnished: dict[str, int]) -> str:
    return filled(path, furnished.get(path.removeprefix(V1).split("/")[0], STRANGE_ID))


UNREADABLE: list[tuple[str | bytes, str, int]] = [
    ("{", "application/json", 400),
    ("", "application/json", 400),
    ("[]", "application/json", 400),
    ("null", "application/json", 400),
    ('"text"', "application/json", 400),
    ("7", "application/json", 400),
    ("{}", "application/json", 400),
    ('{"weight_g": NaN}', "application/json", 400),
    ('{"weight_g": -Infinity}', "application/json", 400),
    ('{"nobody knows this": 1}', "application/json", 400),
    ('{"\\ud800": 1}', "application/json", 400),
    ('{"name": "\\uDC00"}', "application/json", 400),
    ('{"when_full": "\\ud83d"}', "application/json", 400),
    ("[" * 100_000, "application/json", 400),
    ('{"a":' * 50_000, "application/json", 400),
    ("1" * 5000, "application/json", 400),
    (b"\xff\xfe", "application/json", 400),
    ("a=b", "application/x-www-form-urlencoded", 415),
    ("<a/>", "application/xml", 415),
]


@pytest.mark.parametrize(("path", "method"), [one for one in WRITING if one[0] not in BARE | FORMS])
def test_a_body_that_cannot_be_read_is_answered_in_words(
    device: Device, furnished: dict[str, int], path: str, method: str
) -> None:
    for body, kind, status in UNREADABLE:
        problem(device.client.generic(method.upper(), known(path, furnished), body, content_type=kind), status)


def test_a_body_too_large_is_answered_in_words(device: Device) -> None:
    body = json.dumps({"readings": "x" * (settings.DATA_UPLOAD_MAX_MEMORY_SIZE + 1)})
    problem(device.client.post(V1 + "readings/bulk/", body, content_type="application/json"), 413, "too_large")


@pytest.mark.parametrize("path", ["", "v1/", "v1/batches", "v1/batches/abc/", "v1/batches/-1/", "v2/batches/", "nothing/"])
def test_an_address_that_leads_nowhere_is_a_problem(world: World, path: str) -> None:
    problem(Client().get(f"/api/{path}"), 404, "no_such_address")


@pytest.mark.parametrize("method", ["POST", "PATCH", "DELETE"])
def test_what_is_sent_to_an_address_that_leads_nowhere_is_answered_by_a_problem_too(world: World, method: str) -> None:
    client = Client(enforce_csrf_checks=True)
    problem(client.generic(method, f"{V1}lots/-1/files/", "{}", content_type="application/json"), 404, "no_such_address")


def test_an_answer_nobody_can_give_is_refused(device: Device) -> None:
    problem(device.client.get(V1 + "batches/", headers={"Accept": "text/html"}), 406, "not_acceptable")


def test_a_mistake_of_ours_is_answered_without_its_inside(device: Device, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_args: object) -> None:
        raise RuntimeError("secret of the house")

    monkeypatch.setattr("api.batches.Batches.rows", broken)
    device.client.raise_request_exception = False
    answer = device.get("batches/")
    problem(answer, 500, "failed")
    assert b"secret of the house" not in answer.content


def test_several_faults_are_listed_each_with_its_field(device: Device) -> None:
    body = {"formula_name": "", "poured_at": "yesterday", "fats_g": "many", "lye_g": 283, "liquids": [{"kind": "water"}]}
    errors = problem(device.post("batches/", body), 400, "invalid")["errors"]
    assert {(one["field"], one["code"]) for one in errors} == {
        ("formula_name", "blank"),
        ("poured_at", "invalid"),
        ("fats_g", "invalid"),
        ("liquids.0.mass_g", "required"),
    }


def test_one_fault_is_named_in_the_sentence(device: Device) -> None:
    body = problem(device.post("scales/", {"name": "Pocket scale"}), 400, "required", "step_g")
    assert "step_g" in body["detail"]


def test_a_wrong_host_is_answered_by_a_problem_under_the_api_and_by_a_page_elsewhere(client, db):
    for_devices = client.get("/api/v1/batches/", headers={"Host": "elsewhere.example"})
    for_people = client.get("/sign-in/", headers={"Host": "elsewhere.example"})
    assert (for_devices.status_code, for_devices["Content-Type"]) == (400, "application/problem+json")
    assert for_devices.json()["code"] == "bad_request"
    assert for_people.status_code == 400
    assert for_people["Content-Type"].startswith("text/html")


def test_a_fault_before_any_view_is_answered_by_a_problem_without_its_details(client, device, monkeypatch):
    def broken(*_args: object) -> None:
        raise RuntimeError("the details")

    client.raise_request_exception = False
    monkeypatch.setattr("django.middleware.common.CommonMiddleware.process_request", broken)
    answer = client.get("/api/v1/batches/")
    assert (answer.status_code, answer["Content-Type"]) == (500, "application/problem+json")
    assert "details" not in answer.text
