"""The Storeroom as its keeper walks through it: received, looked at, counted, ruled, used."""

import re
import uuid
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse

from curehouse.common import uploads
from curehouse.making.models import BatchHold, BatchUse
from inventory.balance import differences
from inventory.models import Count, Lot, LotFile, Material, Movement, Supplier
from inventory.services.things import retire_material
from tests.papers import PDF
from tests.web.reading_pages import words_of
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Any) -> None:
    settings.DATA_FOLDER = tmp_path


@pytest.fixture
def visitor(world: World) -> Visitor:
    return Visitor(world)


@pytest.fixture(autouse=True)
def _at_worlds_moment(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("curehouse.web.access.timezone.now", lambda: world.now)


def receipt(world: World, **changes: Any) -> dict[str, Any]:
    return {
        "material": "new", "new_name": "Olive oil", "new_kind": "fat", "amount": "25", "unit": "kg", "supplier": "new",
        "new_supplier": "Brook Mill", "supplier_lot": "BM-77", "best_before": "", "price": "180,00",
        "received_on": world.now.date().isoformat(), "standing": "released", "why": "sealed",
    } | changes  # fmt: skip


def the_lot(world: World) -> Lot:
    return Lot.objects.within(world.workshop).named().newest_first().first()


def errors_of(answer: HttpResponse) -> str:
    assert answer.status_code == 200
    return words_of(answer)


def test_a_lot_of_a_new_material_from_a_new_supplier_comes_in_by_one_form(world: World, visitor: Visitor) -> None:
    assert "Receive the first lot" in visitor.words("storeroom")
    visitor.post("receive", **receipt(world))
    lot = the_lot(world)
    assert (lot.material.name, lot.material.kind, lot.supplier.name) == ("Olive oil", "fat", "Brook Mill")
    assert (lot.on_hand, lot.unit_cost, lot.standing) == (25000, Decimal("0.0072"), "released")
    words = visitor.words("lot", lot.pk)
    assert "7.20 EUR a kg" in words
    assert "25 kg" in words
    assert "Olive oil" in visitor.words("storeroom")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"new_name": ""}, "The new material's name is missing"),
        ({"new_kind": ""}, "The new material's kind is missing"),
        ({"material": ""}, "The material is missing: choose it, or a new one"),
        ({"material": "999999"}, "Choose the material from the list"),
        ({"amount": "0"}, "The amount lies above 0"),
        ({"amount": "heavy"}, "type figures"),
        ({"unit": "pieces"}, "This kind is kept in grams: choose the unit again"),
        ({"new_kind": "packaging"}, "This kind is counted in pieces: choose the unit again"),
        ({"new_supplier": ""}, "The new supplier's name is missing"),
        ({"best_before": "31.02.2027"}, "The best-before is not a day"),
        ({"received_on": "2099-01-01"}, "lies in the future"),
        ({"standing": ""}, "Released or in quarantine is missing: choose one"),
    ],
)
def test_what_cannot_be_is_said_beside_its_field_and_nothing_is_written(
    world: World, visitor: Visitor, changes: dict[str, str], said: str
) -> None:
    answer = visitor.post("receive", **receipt(world, **changes))
    assert said in errors_of(answer)
    assert 'value="BM-77"' in answer.content.decode()
    for model in (Lot, Material, Supplier):
        assert not model.objects.within(world.workshop).exists()


def test_a_receipt_sent_twice_comes_in_once(world: World, visitor: Visitor) -> None:
    key = str(uuid.uuid4())
    first, second = (visitor.post("receive", form_key=key, **receipt(world)) for _ in range(2))
    assert first.url == second.url
    assert Lot.objects.within(world.workshop).count() == 1


def test_the_room_says_what_expires_and_what_waits(world: World, visitor: Visitor) -> None:
    today = world.now.date()
    oil = world.material("Olive oil")
    world.lot("400", material=oil, best_before=today + timedelta(days=10))
    world.lot("900", material=oil, best_before=today - timedelta(days=2))
    world.lot("10000", material=world.material("Sodium hydroxide", kind="lye"), standing="quarantine")
    words = visitor.words("storeroom")
    assert "in 10 days" in words
    assert "2 days ago" in words
    assert "in quarantine" in words
    assert "900 g not in order" in words
    assert "not used lately" in words
    assert "No material is called" in visitor.words("storeroom", query="?q=shea")


def test_days_of_cover_go_by_what_was_used_lately(world: World, visitor: Visitor) -> None:
    lot = world.lot("10000", received_on=world.now.date() - timedelta(days=100))
    batch = world.batch()
    line = {"lot_0": lot.pk, "amount_0": "900", "unit_0": "g"}
    visitor.client.post(f"/batches/{batch.pk}/use/?lines=1", {"form_key": str(uuid.uuid4()), **line})
    # 900 g in 90 days are 10 g a day; 9,100 g last 910.
    assert "over a year at the recent rate" in visitor.words("storeroom")
    visitor.client.post(
        f"/batches/{batch.pk}/use/?lines=1", {"form_key": str(uuid.uuid4()), "lot_0": lot.pk, "amount_0": "8.1", "unit_0": "kg"}
    )  # fmt: skip
    # 9,000 g in 90 days are 100 g a day; 1,000 g last 10.
    assert "10 days at the recent rate" in visitor.words("storeroom")
    assert "about 700 g a week" in visitor.words("material", lot.material_id)


def test_the_room_takes_as_many_queries_however_much_is_in_it(world: World, visitor: Visitor) -> None:
    world.lot("400")
    few = visitor.queries("storeroom")
    for number in range(12):
        material = world.material(f"Oil {number}")
        for _ in range(3):
            world.lot("400", material=material)
    assert visitor.queries("storeroom") == few


def test_a_count_that_differs_wants_a_reason_and_corrects(world: World, visitor: Visitor) -> None:
    lot = world.lot("1000")
    assert "1 kg" not in visitor.words("lot_count", lot.pk)
    said = errors_of(visitor.post("lot_count", lot.pk, amount="950", unit="g"))
    assert "1000 g are booked and 950 g counted: say why" in said
    visitor.post("lot_count", lot.pk, amount="950", unit="g", reason="spilt")
    assert the_lot(world).on_hand == 950
    assert Count.objects.within(world.workshop).get().reason == "spilt"
    visitor.post("lot_count", lot.pk, amount="0,95", unit="kg")
    words = visitor.words("lot", lot.pk)
    assert "950 g counted, 1 kg booked" in words
    assert "then 950 g" in words
    assert differences() == []


def test_a_count_of_nothing_is_a_count_and_less_than_nothing_is_none(world: World, visitor: Visitor) -> None:
    lot = world.lot("1000")
    assert "0 or more" in errors_of(visitor.post("lot_count", lot.pk, amount="-0.5", unit="g", reason="x"))
    visitor.post("lot_count", lot.pk, amount="0", unit="g", reason="all gone")
    assert the_lot(world).on_hand == 0
    assert "used up" in visitor.words("lot", lot.pk)


@pytest.mark.parametrize(("page", "left"), [("lot_write_off", 700), ("lot_give_back", 700), ("lot_more", 1300)])
def test_what_leaves_and_what_comes_is_booked(world: World, visitor: Visitor, page: str, left: int) -> None:
    lot = world.lot("1000")
    visitor.post(page, lot.pk, amount="300", unit="g", reason="the sack tore")
    assert the_lot(world).on_hand == left
    assert "the sack tore" in visitor.words("lot", lot.pk)


def test_more_than_is_there_cannot_be_written_off(world: World, visitor: Visitor) -> None:
    lot = world.lot("1000")
    assert "holds 1000 g by the book" in errors_of(visitor.post("lot_write_off", lot.pk, amount="2", unit="kg", reason="spilt"))
    assert the_lot(world).on_hand == 1000


def test_a_movement_is_taken_back_with_a_reason_and_once(world: World, visitor: Visitor) -> None:
    lot = world.lot("1000")
    visitor.post("lot_write_off", lot.pk, amount="300", unit="g", reason="spilt")
    moved = Movement.objects.within(world.workshop).get(kind="write_off")
    assert "The reason is missing" in errors_of(visitor.post("movement_take_back", moved.pk, reason=""))
    visitor.post("movement_take_back", moved.pk, reason="it was another lot")
    assert the_lot(world).on_hand == 1000
    words = visitor.words("lot", lot.pk)
    assert "(taken back)" in words
    assert "it was another lot" in words
    again = errors_of(visitor.post("movement_take_back", moved.pk, reason="again"))
    assert "taken back already" in again


def test_a_count_is_taken_back_though_it_found_no_difference(world: World, visitor: Visitor) -> None:
    lot = world.lot("1000")
    visitor.post("lot_count", lot.pk, amount="1000", unit="g")
    counted = Count.objects.within(world.workshop).get()
    address = f"/counts/{counted.pk}/take-back/"
    assert address in visitor.get("lot", lot.pk).content.decode()
    assert "1 kg counted, 1 kg booked: nobody counted that" in visitor.words("count_take_back", counted.pk)
    assert "The reason is missing" in errors_of(visitor.post("count_take_back", counted.pk, reason=""))
    visitor.post("count_take_back", counted.pk, reason="the sack beside it")
    words = visitor.words("lot", lot.pk)
    assert "1 kg counted, 1 kg booked (taken back)" in words
    assert "A count of 1 kg taken back" in words
    assert "the sack beside it" in words
    assert address not in visitor.get("lot", lot.pk).content.decode()
    assert "taken back already" in errors_of(visitor.post("count_take_back", counted.pk, reason="again"))


def test_a_rejected_lot_holds_the_batches_it_went_into_until_a_person_lifts_it(world: World, visitor: Visitor) -> None:
    lot, batch = world.lot("1000"), world.batch()
    visitor.client.post(
        f"/batches/{batch.pk}/use/?lines=1", {"form_key": str(uuid.uuid4()), "lot_0": lot.pk, "amount_0": "700", "unit_0": "g"}
    )  # fmt: skip
    assert str(batch) in visitor.words("lot_rule", lot.pk)
    visitor.post("lot_rule", lot.pk, standing="rejected", why="smells rancid")
    hold = BatchHold.objects.within(world.workshop).get()
    words = visitor.words("batch", batch.pk)
    assert "was rejected after it went in" in words
    assert "held" in visitor.words("bench")
    assert "smells rancid" in words
    assert "The reason is missing" in errors_of(visitor.post("hold_lift", hold.pk, why=""))
    visitor.post("hold_lift", hold.pk, why="a bar was tested, in order")
    words = visitor.words("batch", batch.pk)
    assert "go to nobody" not in words
    assert "a bar was tested, in order" in words


def test_lots_are_proposed_first_expired_first_and_booked_as_it_was(world: World, visitor: Visitor) -> None:
    today = world.now.date()
    late = world.lot("500", best_before=today + timedelta(days=90))
    soon = world.lot("300", best_before=today + timedelta(days=9))
    old = world.lot("100", best_before=today - timedelta(days=1))
    batch = world.batch()
    query = f"?material_0={late.material_id}&amount_0=0,9&unit_0=kg"
    answer = visitor.get("batch_use", batch.pk, query=query)
    words = words_of(answer)
    assert "of 900 g asked for, 100 g are not here by the book" in words
    assert "Olive oil, lot 3 is expired" in words
    form = answer.context["form"]
    assert [form[f"lot_{row}"].value() for row in range(2)] == [str(soon.pk), str(late.pk)]
    assert [form[f"amount_{row}"].value() for row in range(2)] == ["300", "500"]
    lines = {"lot_0": soon.pk, "amount_0": "320", "unit_0": "g", "lot_1": old.pk, "amount_1": "80", "unit_1": "g"}
    address = f"/batches/{batch.pk}/use/?lines=5"
    refused = visitor.client.post(address, {"form_key": str(uuid.uuid4()), **lines})
    assert "is expired: say why it was used all the same" in errors_of(refused)
    assert not BatchUse.objects.within(world.workshop).exists()
    visitor.client.post(address, {"form_key": str(uuid.uuid4()), **lines, "reason_1": "one day over"})
    words = visitor.words("batch", batch.pk)
    assert "320 g" in words
    assert "one day over" in words
    assert "held" in words
    assert Count.objects.within(world.workshop).get().reason == "found at the pour"
    assert differences() == []


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ({}, "No line has an amount"),
        ({"amount_0": "5", "unit_0": "g"}, "Say which lot it was taken from"),
        ({"lot_0": "999999", "amount_0": "5", "unit_0": "g"}, "Choose the lot from the list"),
        ({"lot_0": "own", "amount_0": "5", "unit_0": "pieces"}, "is kept in grams: choose the unit again"),
        ({"lot_0": "own", "amount_0": "-5", "unit_0": "g"}, "The amount lies above 0"),
    ],
)
def test_a_use_that_cannot_be_is_said_beside_its_line(world: World, visitor: Visitor, lines: dict[str, str], said: str) -> None:
    lot, batch = world.lot("500"), world.batch()
    sent = {name: str(lot.pk) if value == "own" else value for name, value in lines.items()}
    answer = visitor.client.post(f"/batches/{batch.pk}/use/?lines=2", {"form_key": str(uuid.uuid4()), **sent})
    assert said in errors_of(answer)
    assert not BatchUse.objects.within(world.workshop).exists()


def test_a_paper_is_kept_and_handed_out_as_an_attachment(world: World, visitor: Visitor) -> None:
    lot = world.lot("500")
    visitor.post("lot_paper", lot.pk, file=SimpleUploadedFile("../../Certificate ä.pdf", PDF))
    paper = LotFile.objects.within(world.workshop).get()
    answer = visitor.get("lot_file", paper.pk)
    assert answer.content == PDF
    assert answer["Content-Type"] == "application/pdf"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Disposition"].startswith("attachment; filename")
    said = errors_of(visitor.post("lot_paper", lot.pk, file=SimpleUploadedFile("run.exe", b"MZ\x90\x00\x03")))
    assert "The file is a program, whatever it is called" in said
    large = SimpleUploadedFile("scan.pdf", b"%PDF-" + b"x" * (10 * 2**20))
    assert "keep it to 10 MB" in errors_of(visitor.post("lot_paper", lot.pk, file=large))


def test_a_paper_that_was_changed_or_is_gone_is_told_in_words(world: World, visitor: Visitor) -> None:
    visitor.post("lot_paper", world.lot("500").pk, file=SimpleUploadedFile("Certificate.pdf", PDF))
    paper = LotFile.objects.within(world.workshop).get()
    lies_at = uploads.path_of(paper.kept_as)
    lies_at.write_bytes(PDF + b"<script>")
    answer = visitor.get("lot_file", paper.pk)
    assert (answer.status_code, b"%PDF" in answer.content) == (409, False)
    assert "not the file that was put there" in words_of(answer)
    lies_at.unlink()
    answer = visitor.get("lot_file", paper.pk)
    assert answer.status_code == 404
    assert "Certificate.pdf is not in the data folder any more: attach it again." in words_of(answer)


def test_papers_are_corrected_with_a_reason_and_a_cost_left_alone_stays_exact(world: World, visitor: Visitor) -> None:
    lot = world.lot("500", unit_cost=Decimal("0.007233"))
    form = visitor.get("lot_correct", lot.pk).context["form"]
    sent = {"supplier_lot": "BM-2211", "best_before": "2027-03-01", "cost": form["cost"].value(), "why": "misread"}
    visitor.post("lot_correct", lot.pk, **sent)
    row = the_lot(world)
    assert (row.supplier_lot, row.best_before.isoformat(), row.unit_cost) == ("BM-2211", "2027-03-01", Decimal("0.007233"))
    assert "misread" in visitor.words("lot", lot.pk)
    visitor.post("lot_value", lot.pk, name="Purity", value="98,7", unit="%")
    assert "98.7 %" in visitor.words("lot", lot.pk)


def test_a_purity_hardly_sold_is_asked_about_on_the_page_and_another_one_is_asked_about_again(
    world: World, visitor: Visitor
) -> None:
    lot = world.lot("500", material=world.material("Sodium hydroxide", kind="lye"))
    typed = {"name": "Purity", "value": "69", "unit": "%"}
    answer = visitor.post("lot_value", lot.pk, **typed)
    assert "hardly sold" in errors_of(answer)
    (said,) = re.findall(r'name="value_confirmed" value="([^"]*)"', answer.content.decode())
    assert not lot.values.exists()
    again = visitor.post("lot_value", lot.pk, **typed | {"value": "70", "value_confirmed": said})
    assert "hardly sold" in errors_of(again)
    visitor.post("lot_value", lot.pk, **typed, value_confirmed=said)
    assert lot.values.get().value == 69


def test_a_material_is_written_changed_and_retired(world: World, visitor: Visitor) -> None:
    visitor.post("material_new", name="Lard", kind="fat", measure="")
    row = Material.objects.within(world.workshop).get()
    assert row.measure == "grams"
    again = errors_of(visitor.post("material_new", name="lard", kind="fat"))
    assert "There is a material called lard already" in again
    visitor.post("material_edit", row.pk, name="Lard, rendered", kind="fat", measure="grams")
    row.refresh_from_db()
    assert row.name == "Lard, rendered"
    lot = world.lot("10", material=row)
    assert visitor.post("material_retire", row.pk).status_code == 409
    visitor.post("lot_write_off", lot.pk, amount="10", unit="g", reason="rancid")
    visitor.post("material_retire", row.pk)
    assert "out of use" in visitor.words("material", row.pk)
    assert "Lard" not in visitor.words("storeroom")
    assert "Lard, rendered" in visitor.words("storeroom", query="?show=retired")
    visitor.post("material_retire", row.pk)
    assert "Lard, rendered" in visitor.words("storeroom")


def test_suppliers_are_written_changed_and_retired(world: World, visitor: Visitor) -> None:
    visitor.post("suppliers", name="Brook Mill", contact="orders@brookmill.example", note="")
    row = Supplier.objects.within(world.workshop).get()
    world.lot("10", supplier=row)
    visitor.post("supplier", row.pk, name="Brook Mill Oils", contact="", note="closed in August")
    assert "Brook Mill Oils" in visitor.words("suppliers")
    assert "lot 1" in visitor.words("supplier", row.pk)
    visitor.post("supplier_retire", row.pk)
    assert "Out of use" in visitor.words("supplier", row.pk)


def test_a_long_story_is_paged_and_the_balance_goes_on(world: World, visitor: Visitor) -> None:
    lot = world.lot("1000")
    for _ in range(60):
        visitor.post("lot_write_off", lot.pk, amount="10", unit="g", reason="drips")
    second = visitor.words("lot", lot.pk, query="?page=2")
    assert "then 1 kg" in second
    assert "then 910 g" in second


def test_a_retired_material_is_not_offered(world: World, visitor: Visitor) -> None:
    row = world.material("Lard")
    retire_material(material=row, at=world.now)
    assert "Lard" not in visitor.words("receive")


def test_the_same_material_named_twice_is_asked_for_once(world: World, visitor: Visitor) -> None:
    lot, batch = world.lot("5000"), world.batch()
    twice = "&".join(f"material_{row}={lot.material_id}&amount_{row}=3&unit_{row}=kg" for row in range(2))
    answer = visitor.get("batch_use", batch.pk, query=f"?{twice}")
    assert "of 6 kg asked for, 1 kg are not here by the book" in words_of(answer)
    assert answer.context["form"]["amount_0"].value() == "5000"
    assert answer.context["form"]["amount_1"].value() is None


def test_what_is_proposed_can_be_chosen_however_many_lots_were_used_up(world: World, visitor: Visitor) -> None:
    lot, batch = world.lot("5000", material=world.material("Zinc-white clay", kind="colour")), world.batch()
    other = world.material("Almond oil")
    for _ in range(230):
        world.lot("10", material=other)
    Lot.unscoped.filter(material=other).update(on_hand=0)
    answer = visitor.get("batch_use", batch.pk, query=f"?material_0={lot.material_id}&amount_0=3&unit_0=kg")
    form = answer.context["form"]
    assert form["lot_0"].value() == str(lot.pk)
    assert str(lot.pk) in dict(form.fields["lot_0"].choices)
