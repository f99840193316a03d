"""Every list there is, found in the URL table: in parts, in each order it offers, at a constant number of queries."""

from datetime import timedelta
from decimal import Decimal
from secrets import token_hex
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from api.views import Listing
from curehouse.common.uploads import Kept
from curehouse.curing.labels import LabelAsked
from curehouse.curing.models import Rack, Room
from curehouse.curing.services.labels import keep_label
from curehouse.curing.services.rooms import add_room
from curehouse.flows.assess import assess_batch
from curehouse.flows.check import check
from curehouse.flows.foretell import foretell_wanting
from curehouse.flows.log_air import log_air, sensed
from curehouse.flows.pour import begin
from curehouse.flows.stand_rack import stand_rack
from curehouse.flows.take_out import take_out
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.intake.services import write_import
from curehouse.making.models import Batch, BatchHold
from curehouse.making.services import CutSeen, TakeOutEntry, lift_hold, note_cut
from curehouse.making.services.formulas import write_version
from curehouse.making.services.runs import plan_run
from curehouse.selling.services import add_market
from curehouse.workshops.services import add_scale, change_preferences
from inventory.models import Lot, Order, StoreCount, Supplier
from inventory.services.lots import LotPapers, correct_lot, record_value, rule_lot
from inventory.services.movements import reverse
from inventory.services.orders import promise, send_order, write_order
from inventory.services.papers import attach_file, look_through
from inventory.services.store_counts import count_in_store, end_store_count
from inventory.services.things import SupplierEntry
from tests.api.device import V1, Device, problem
from tests.api.test_problems import ADDRESSES, PATHS
from tests.factories import SupplierFactory
from tests.formulas import formula_entry
from tests.world import World

# The owner's own, that no device may read, is held to the same in tests/api/test_trail.py.
LISTS = [path for path in PATHS if issubclass(ADDRESSES[path].callback.cls, Listing) and path != V1 + "deeds/"]


def a_house(world: World) -> tuple[Batch, Lot]:
    """Return a batch and a lot whose own lists are to be filled."""
    change_preferences(workshop=world.workshop, changes={"check_limit": "no darker than square 9"})
    return world.batch(cut_days_ago=20), world.lot("100")


def fill(world: World, batch: Batch, lot: Lot, rows: int) -> None:
    """Put so many more rows into every list, of the workshop and of *batch* and *lot*."""
    actor, now, workshop = world.actor, world.now, world.workshop
    so_far = Lot.objects.within(workshop).count()
    for number in range(so_far, so_far + rows):
        at = now - timedelta(minutes=1000 - number)
        another = world.batch(
            cut_days_ago=36, position=world.position(world.rack(f"Rack {number}")), formula_name=f"S {number}"
        )
        world.weigh_series(another, {0: "120.0", 28: "108.2", 35: "108.0"}, letters="A")
        assess_batch(workshop_id=workshop.pk, batch_id=another.pk, at=now)
        add_scale(workshop=workshop, name=f"Scale {number}", step_g=Decimal("0.1"))
        check(
            actor=actor, batch=batch, method="strip", value="8", passed=True, note="", checked_at=at, at=at,
        )  # fmt: skip
        note_cut(actor=actor, batch=batch, seen=CutSeen("none", Decimal(number)), at=at)
        entry = TakeOutEntry(bars=1, purpose="destroyed", taken_at=at, forced_reason="crumbled")
        take_out(actor=actor, batch=batch, entry=entry, at=now)
        world.weigh(world.bar(batch), "119.0", moment=at)
        assess_batch(workshop_id=workshop.pk, batch_id=batch.pk, at=at)
        foretell_wanting(workshop_id=workshop.pk, at=at)
        asked = LabelAsked("handbook_133", "open", now.date() + timedelta(days=40), number % 3, Decimal("0.900"))
        keep_label(actor=actor, batch=batch, asked=asked, at=at)
        fill_storeroom(world, batch, lot, number)
        fill_rooms(world, number)
        version = write_version(actor=actor, formula=batch.formula, entry=formula_entry(name=batch.formula.name), at=at)
        day = now.date() + timedelta(days=3 + number)
        run = plan_run(actor=actor, version=version, fats_g=Decimal(1000), pour_on=day, at=at)
        begin(actor=actor, version=version, fats_g=Decimal(1000), run=run, at=at)
        add_market(actor=actor, name=f"Fair {number}", held_on=day, at=at)


def fill_rooms(world: World, number: int) -> None:
    """Put a room up, say of the first rack that it stands there, and write two readings of the first room."""
    room = add_room(workshop=world.workshop, name=f"Room {number}")
    stand_rack(actor=world.actor, rack=first_of(world, Rack), room=room, since=None, at=world.now)
    air = {"humidity_pct": Decimal(60), "temperature_c": Decimal(18)}
    entry = sensed(world.actor, moment=world.now - timedelta(days=number), **air)
    log_air(actor=world.actor, room=first_of(world, Room), entry=entry, at=world.now)


def first_of(world: World, model: Any) -> Any:
    """Return the first row of a model."""
    return model.objects.within(world.workshop).order_by("pk").first()


def fill_storeroom(world: World, batch: Batch, lot: Lot, number: int) -> None:
    actor, now = world.actor, world.now
    at = now - timedelta(minutes=1000 - number)
    supplier = SupplierFactory(workshop=world.workshop, entry=SupplierEntry(name=f"Mill {number}"))
    fill_orders(world, supplier, number)
    waiting = world.lot(material=world.material(f"Oil {number}"), supplier=supplier, standing="quarantine")
    line = UseLine(waiting, Decimal(1), reason="nothing else was here")
    (used,) = book_use(actor=actor, batch=batch, lines=[line], used_at=at, at=now)
    (again,) = book_use(actor=actor, batch=batch, lines=[line], used_at=at, at=now)
    for use in (used, again):
        lift_hold(actor=actor, hold=BatchHold.objects.within(world.workshop).get(use=use), why="tested", at=now)
    reverse(actor=actor, movement=again.movement, reason="another batch", at=now)
    record_value(actor=actor, lot=lot, name="Purity", value=Decimal(number), unit="%", at=at)
    attach_file(actor=actor, lot=lot, paper=look_through("certificate.txt", b"99.2 %"), at=at)
    papers = LotPapers(supplier_lot=f"BM-{number}", best_before=None, unit_cost=None)
    correct_lot(actor=actor, lot=lot, papers=papers, why="misread", at=at)
    standing = "quarantine" if Lot.objects.within(world.workshop).get(pk=lot.pk).standing == "released" else "released"
    rule_lot(actor=actor, lot=lot, standing=standing, why="looked at again", at=at)
    kept = Kept(token_hex(32), "0" * 64)
    write_import(actor=actor, kind="batches", name="log.csv", kept=kept, options={}, at=now)
    found = {"actor": actor, "lot": lot, "counted": Decimal(100), "moment": at, "at": at}
    walk = count_in_store(on_walk=True, **found).count.store_count
    end_store_count(actor=actor, store_count=walk, at=at)
    # One more of the first one, of somebody who was just typing.
    first = first_of(world, StoreCount)
    count_in_store(of=first.pk, **{**found, "at": first.ended_at, "moment": first.ended_at})


def fill_orders(world: World, supplier: Supplier, number: int) -> None:
    """Write an offer, an order of it that is sent, and a step of the first order."""
    offer = world.offer(material=world.material(f"Clay {number}"), supplier=supplier)
    asked = {"actor": world.actor, "at": world.now}
    order = write_order(supplier=supplier, packs={offer.pk: 1}, **asked)
    send_order(order=order, sent_on=world.now.date(), **asked)
    promise(order=first_of(world, Order), promised_on=world.now.date() + timedelta(days=number), **asked)


def filled(path: str, batch: Batch, lot: Lot) -> str:
    keys = {"/lots/": lot.pk, "/formulas/": batch.formula_id, "/batches/": batch.pk}
    for word, model in (("/rooms/", Room), ("/racks/", Rack), ("/orders/", Order), ("/store-counts/", StoreCount)):
        row = model.objects.within(batch.workshop).order_by("pk").first()
        keys[word] = row.pk if row else 0
    pk = next((key for word, key in keys.items() if f"{word}<int:pk>" in path), batch.pk)
    return path.replace("<int:pk>", str(pk))


def walk(device: Device, path: str, **query: Any) -> list[dict[str, Any]]:
    """Return the rows of a whole list, part by part."""
    answer = device.client.get(path, query).json()
    rows = answer["results"]
    while answer["next"]:
        parts = urlsplit(answer["next"])
        answer = device.client.get(parts.path, parse_qs(parts.query)).json()
        rows += answer["results"]
    return rows


@pytest.fixture
def house(world: World) -> tuple[Batch, Lot]:
    """Return a batch and a lot in a house with some rows in every list."""
    batch, lot = a_house(world)
    fill(world, batch, lot, 3)
    return batch, lot


def test_the_lists_are_all_found() -> None:
    assert len(LISTS) > 20
    assert {V1 + "movements/", V1 + "lots/<int:pk>/values/", V1 + "readings/"} <= set(LISTS)


def test_every_list_is_walked_in_parts_in_each_of_its_orders(device: Device, house: tuple[Batch, Lot]) -> None:
    for path in LISTS:
        address = filled(path, *house)
        whole = {row["id"] for row in walk(device, address)}
        assert len(whole) > 2, path
        for name in ADDRESSES[path].callback.cls.ordering_fields:
            up, down = (walk(device, address, ordering=sign + name, page_size=2) for sign in ("", "-"))
            assert up == walk(device, address, ordering=name) == down[::-1], (path, name)
            assert len(up) == len({row["id"] for row in up}) == len(whole), (path, name)


def test_every_list_refuses_in_words_what_it_cannot_hear(device: Device, house: tuple[Batch, Lot]) -> None:
    for path in LISTS:
        for name, value in {"ordering": "colour", "page_size": "0", "cursor": "boo", "colour": "red"}.items():
            body = problem(device.client.get(filled(path, *house), {name: value}), 400, field=name)
            assert body["detail"].endswith("."), path


def test_queries_of_no_list_grow_with_its_rows(world: World, device: Device) -> None:
    batch, lot = a_house(world)

    def more(rows: int) -> dict[str, tuple[int, int]]:
        fill(world, batch, lot, rows)
        found = {}
        for path in LISTS:
            address = filled(path, batch, lot)
            device.client.get(address)  # the token's last use is noted once in ten minutes
            with CaptureQueriesContext(connection) as caught:
                answer = device.client.get(address, {"page_size": "200"})
            found[path] = (len(caught), len(answer.json()["results"]))
        return found

    few, many = more(2), more(8)
    assert {path: queries for path, (queries, _) in few.items()} == {path: queries for path, (queries, _) in many.items()}
    assert all(many[path][1] > few[path][1] for path in LISTS)
    # Of runs the recipes of what is made from others are read too.
    assert max(queries for queries, _ in many.values()) <= 8, many
