"""The storeroom through the API: things, lots, movements, what batches took, as a script would do it."""

from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client

from curehouse.common import uploads
from inventory.balance import differences
from inventory.models import Lot, LotFile, Material, Movement
from inventory.services.papers import MOST_BYTES
from tests.api.device import V1, Device, problem
from tests.papers import PDF
from tests.world import PASSWORD, World


def a_lot(world: World, device: Device, **changes: Any) -> dict[str, Any]:
    """Receive a lot through the API and return it."""
    material = Material.objects.within(world.workshop).called("Olive oil") or world.material()
    sent = {"material": material.pk, "amount": "2500.5", "received_on": "2026-03-01", "standing": "released"}
    answer = device.post("lots/", sent | changes)
    assert answer.status_code == 201, answer.content
    return answer.json()


def moment(world: World, days: float = 1) -> str:
    return world.days_ago(days).isoformat()


def test_a_material_is_written_changed_retired_and_taken_up(world: World, device: Device) -> None:
    answer = device.post("materials/", {"name": "Tins", "kind": "packaging"})
    assert answer.status_code == 201
    made = answer.json()
    assert answer["Location"] == f"{V1}materials/{made['id']}/"
    assert made == device.client.get(answer["Location"]).json()
    assert (made["measure"], made["retired_at"]) == ("pieces", None)
    path = f"materials/{made['id']}/"
    changed = device.patch(path, {"name": "Small tins"}).json()
    assert (changed["name"], changed["kind"]) == ("Small tins", "packaging")
    problem(device.patch(path, {}), 400, "nothing")
    problem(device.patch(path, {"low_at": "5"}), 400, "unknown_field", "low_at")
    problem(device.post("materials/", {"name": "small TINS", "kind": "bars"}), 409, "name_taken", "name")
    assert device.post(f"{path}retire/").json()["retired_at"]
    assert device.rows("materials/", in_use="true") == []
    assert device.post(f"{path}take-up/").json()["retired_at"] is None


def test_a_supplier_is_written_changed_retired_and_taken_up(world: World, device: Device) -> None:
    made = device.post("suppliers/", {"name": "Brook Mill", "contact": "orders@brookmill.example"}).json()
    path = f"suppliers/{made['id']}/"
    changed = device.patch(path, {"note": "Closed\nin August"}).json()
    assert (changed["contact"], changed["note"]) == ("orders@brookmill.example", "Closed\nin August")
    problem(device.post("suppliers/", {"name": "BROOK mill"}), 409, "name_taken", "name")
    problem(device.patch(path, {}), 400, "nothing")
    assert device.post(f"{path}retire/").json()["retired_at"]
    assert device.post(f"{path}take-up/").json()["retired_at"] is None


def test_a_lot_is_received_ruled_about_and_corrected(world: World, device: Device) -> None:
    lot = a_lot(world, device, standing="quarantine", supplier_lot="BM-1", unit_cost="0.0085", best_before="2027-03-01")
    assert (lot["number"], lot["name"], lot["on_hand"], lot["measure"]) == (1, "Olive oil, lot 1", "2500.500", "grams")
    assert (lot["unit_cost"], lot["signed_by"]) == ("0.008500", "Bench tablet")
    path = f"lots/{lot['id']}/"
    problem(device.post(f"{path}rulings/", {"standing": "released", "why": "smells fresh"}), 403, "person_only")
    ruling = device.as_person(f"{path}rulings/", {"standing": "released", "why": "smells fresh"})
    assert (ruling.status_code, ruling.json()["standing"]) == (201, "released")
    problem(device.as_person(f"{path}rulings/", {"standing": "released", "why": "again"}), 409, "ruled_already", "standing")
    corrected = device.post(f"{path}corrections/", {"supplier_lot": "BM-7", "why": "misread"})
    assert [(row["before"], row["after"]) for row in corrected.json()] == [("BM-1", "BM-7")]
    assert device.get(path).json()["best_before"] == "2027-03-01"
    assert [row["standing"] for row in device.rows(f"{path}rulings/")] == ["released", "quarantine"]
    assert len(device.rows(f"{path}corrections/")) == 1
    (earlier,) = device.post(f"{path}corrections/", {"received_on": "2026-02-20", "why": "a slip"}).json()
    assert (earlier["field"], earlier["before"], earlier["after"]) == ("received_on", "2026-03-01", "2026-02-20")
    later = {"received_on": "2099-02-20", "why": "a slip"}
    assert problem(device.post(f"{path}corrections/", later), 400, "future", "received_on")
    assert device.get(path).json()["received_on"] == "2026-02-20"


def test_a_receipt_that_cannot_be_is_refused_under_its_field(world: World, device: Device) -> None:
    material = world.material().pk
    sent = {"material": material, "amount": "10", "received_on": "2026-03-01"}
    problem(device.post("lots/", sent | {"received_on": "2199-01-01"}), 400, "future", "received_on")
    problem(device.post("lots/", sent | {"received_on": "1900-01-01"}), 400, "long_ago", "received_on")
    problem(device.post("lots/", sent | {"received_on": "2026-03-01T09:00:00Z"}), 400, field="received_on")
    problem(device.post("lots/", sent | {"best_before": "0001-01-01"}), 400, "best_before", "best_before")
    problem(device.post("lots/", sent | {"amount": "0"}), 400, "not_positive", "amount")
    problem(device.post("lots/", sent | {"unit_cost": "-1"}), 400, "cost", "unit_cost")
    problem(device.post("lots/", sent | {"material": 999}), 404, "not_here", "material")
    problem(device.post("lots/", sent | {"supplier": 999}), 404, "not_here", "supplier")
    assert not Lot.objects.within(world.workshop).exists()


def test_figures_of_a_certificate_are_recorded(world: World, device: Device) -> None:
    path = f"lots/{a_lot(world, device)['id']}/values/"
    assert device.post(path, {"name": "Purity", "value": "98.5", "unit": "%"}).json()["value"] == "98.50000"
    assert device.post(path, {"name": "Purity", "value": -0.25}).status_code == 201
    assert [row["value"] for row in device.rows(path)] == ["-0.25000", "98.50000"]


def test_a_saponification_value_outside_of_the_published_range_is_asked_about(world: World, device: Device) -> None:
    lot = world.lot("500", material=world.material("Olive oil"))
    path, sent = f"lots/{lot.pk}/values/", {"name": "SAP", "value": "245", "unit": "mg KOH/g"}
    problem(device.post(path, sent), 409, "value_doubtful", "value")
    assert not lot.values.exists()
    assert device.post(path, sent | {"value_confirmed": True}).status_code == 201


def test_what_comes_and_goes_is_booked_and_taken_back(world: World, device: Device) -> None:
    lot = a_lot(world, device)["id"]
    more = device.post(f"lots/{lot}/receipts/", {"amount": 100, "moment": moment(world)}).json()
    assert (more["kind"], more["amount"], more["source"], more["batch"]) == ("receive", "100.000", "api", None)
    gone = device.post(f"lots/{lot}/write-offs/", {"amount": "0.5", "moment": moment(world), "reason": "spilt"}).json()
    back = device.post(f"lots/{lot}/returns/", {"amount": "600", "moment": moment(world), "reason": "rancid"}).json()
    assert (gone["amount"], back["amount"]) == ("-0.500", "-600.000")
    counted = device.post(f"lots/{lot}/counts/", {"counted": "1990", "moment": moment(world, 0.5), "reason": "weighed"}).json()
    assert (counted["expected"], counted["counted"]) == ("2000.000", "1990.000")
    assert device.get(f"movements/{counted['movement']}/").json()["amount"] == "-10.000"
    reversal = device.post(f"movements/{back['id']}/reversal/", {"reason": "kept after all"})
    assert (reversal.status_code, reversal.json()["corrects"]) == (201, back["id"])
    assert device.get(f"movements/{back['id']}/").json()["corrected_by"] == reversal.json()["id"]
    body = problem(device.post(f"movements/{back['id']}/reversal/", {"reason": "twice"}), 409, "reversed")
    assert "field" not in body
    # What was counted after the return stays: with the return taken back, more was lacking at the count.
    assert device.get(f"lots/{lot}/").json()["on_hand"] == "1990.000"
    again = {row["restates"]: row for row in device.rows(f"lots/{lot}/counts/")}
    assert again[counted["id"]]["expected"] == "2590.000"
    assert again[counted["id"]]["counted"] == again[None]["counted"] == "1990.000"
    assert differences() == []


def test_a_count_is_taken_back_with_a_difference_and_without(world: World, device: Device) -> None:
    lot = a_lot(world, device)["id"]
    sent = {"moment": moment(world, 0.5), "reason": "weighed"}
    same = device.post(f"lots/{lot}/counts/", {"counted": "2500.5", **sent}).json()
    less = device.post(f"lots/{lot}/counts/", {"counted": "2400", **sent}).json()
    assert (same["movement"], same["is_taken_back"], less["is_taken_back"]) == (None, False, False)
    for row in (same, less):
        answer = device.post(f"counts/{row['id']}/reversal/", {"reason": "another sack"})
        assert (answer.status_code, answer.json()["id"], answer.json()["is_taken_back"]) == (201, row["id"], True)
        body = problem(device.post(f"counts/{row['id']}/reversal/", {"reason": "twice"}), 409, "reversed")
        assert "field" not in body
    (told,) = (row for row in device.rows(f"lots/{lot}/counts/") if row["takes_back"])
    assert (told["takes_back"], told["reason"], told["is_taken_back"]) == (same["id"], "another sack", False)
    assert device.get(f"lots/{lot}/").json()["on_hand"] == "2500.500"
    problem(device.post(f"counts/{told['id']}/reversal/", {"reason": "again"}), 409, "is_reversal")
    problem(device.post(f"counts/{same['id']}/reversal/", {"reason": " "}), 400, "blank", "reason")
    assert differences() == []


def test_what_cannot_leave_a_lot_is_refused_under_its_field(world: World, device: Device) -> None:
    lot = a_lot(world, device)["id"]
    sent = {"amount": "9000", "moment": moment(world), "reason": "spilt"}
    body = problem(device.post(f"lots/{lot}/write-offs/", sent), 409, "not_enough", "amount")
    assert body["data"]["on_hand"] == "2500.500"
    problem(device.post(f"lots/{lot}/write-offs/", sent | {"reason": " "}), 400, "blank", "reason")
    problem(device.post(f"lots/{lot}/returns/", sent | {"moment": "2199-01-01T00:00:00Z"}), 400, "future", "moment")
    problem(device.post(f"lots/{lot}/returns/", sent | {"moment": moment(world, 99)}), 400, "before_receipt", "moment")
    problem(device.post(f"lots/{lot}/counts/", {"counted": "1", "moment": moment(world)}), 400, "reason", "reason")
    assert Movement.objects.within(world.workshop).count() == 1


def test_movements_are_filtered(world: World, device: Device) -> None:
    lot, other = a_lot(world, device)["id"], a_lot(world, device, material=world.material("Coconut oil").pk)["id"]
    gone = device.post(f"lots/{lot}/write-offs/", {"amount": 1, "moment": moment(world), "reason": "spilt"}).json()["id"]
    device.post(f"movements/{gone}/reversal/", {"reason": "it was not"})
    assert {row["lot"] for row in device.rows("movements/", lot=other)} == {other}
    assert [row["id"] for row in device.rows("movements/", kind="write_off")] == [gone]
    assert [row["kind"] for row in device.rows("movements/", lot=lot, in_force="true")] == ["receive"]
    assert {row["kind"] for row in device.rows("movements/", in_force="false")} == {"write_off", "reversal"}
    coconut = Lot.objects.within(world.workshop).get(pk=other).material_id
    assert len(device.rows("movements/", material=coconut)) == 1
    assert len(device.rows("movements/", moment_after=moment(world, 2))) == 2


def test_lots_are_filtered(world: World, device: Device) -> None:
    old = a_lot(world, device, best_before="2026-03-05")["id"]
    new = a_lot(world, device, standing="quarantine", received_on="2026-03-08", supplier_lot="bm-9")["id"]

    def found(**query: str) -> list[int]:
        return [row["id"] for row in device.rows("lots/", ordering="number", **query)]

    assert found() == [old, new]
    assert found(best_before_by="2026-03-31") == [old]
    assert found(standing="quarantine") == found(received_from="2026-03-02") == found(supplier_lot="BM-9") == [new]
    assert (found(kind="lye"), found(kind="fat", in_stock="true"), found(in_stock="false")) == ([], [old, new], [])


def test_lots_are_proposed_first_expired_first(world: World, device: Device) -> None:
    late = a_lot(world, device, best_before="2027-09-01")
    soon = a_lot(world, device, best_before="2027-01-01", amount="300")
    waiting = a_lot(world, device, standing="quarantine")
    path = f"materials/{late['material']}/proposal/"
    found = device.get(path, amount="3000", day="2026-12-01").json()
    assert [(one["lot"], one["amount"]) for one in found["takes"]] == [(soon["id"], "300.000"), (late["id"], "2500.500")]
    assert found["short"] == "199.500"
    assert [(one["lot"], one["why"]) for one in found["passed_over"]] == [(waiting["id"], "quarantine")]
    assert [one["lot"] for one in device.get(path, amount="1", day="2027-02-01").json()["takes"]] == [late["id"]]
    problem(device.get(path), 400, "required", "amount")
    problem(device.get(path, amount="0"), 400, "not_positive", "amount")
    problem(device.get(path, amount="1", day="soon"), 400, "invalid", "day")
    problem(device.get(path, amount="1", boo="1"), 400, "unknown_field", "boo")


def test_what_a_batch_took_is_booked_and_holds_it_where_a_lot_was_not_in_order(world: World, device: Device) -> None:
    batch, fine, waiting = world.batch(), a_lot(world, device), a_lot(world, device, standing="quarantine")
    path = f"batches/{batch.pk}/uses/"
    lines = [{"lot": fine["id"], "amount": "100"}, {"lot": waiting["id"], "amount": "7.5"}]
    sent = {"used_at": moment(world), "lines": lines}
    problem(device.post(path, sent), 400, "reason", "lines.1.reason")
    assert device.rows(path) == []
    lines[1]["reason"] = "nothing else was here"
    answer = device.post(path, sent)
    assert answer.status_code == 201, answer.content
    assert [(row["lot"], row["amount"], row["irregular"]) for row in answer.json()] == [
        (fine["id"], "100.000", ""),
        (waiting["id"], "7.500", "quarantine"),
    ]
    assert device.rows("movements/", batch=batch.pk, lot=fine["id"])[0]["batch"] == batch.pk
    (hold,) = device.rows("holds/", batch=batch.pk, standing="true")
    problem(device.post(f"holds/{hold['id']}/lift/", {"why": "tested"}), 403, "person_only")
    person = Client()
    person.login(username=world.email, password=PASSWORD)
    lifted = person.post(f"{V1}holds/{hold['id']}/lift/", {"why": "tested"}, content_type="application/json")
    assert (lifted.status_code, lifted.json()["lifted_why"]) == (201, "tested")
    assert device.rows("holds/", standing="true") == []
    device.post(f"movements/{answer.json()[0]['movement']}/reversal/", {"reason": "another batch"})
    assert [row["taken_back"] for row in device.rows(path)] == [False, True]
    assert [row["lot"] for row in device.rows(path, in_force="true")] == [waiting["id"]]


def test_a_lot_that_is_rejected_holds_what_took_from_it(world: World, device: Device) -> None:
    batch, lot = world.batch(), a_lot(world, device)["id"]
    device.post(f"batches/{batch.pk}/uses/", {"used_at": moment(world), "lines": [{"lot": lot, "amount": "100"}]})
    assert device.rows("holds/") == []
    assert device.post(f"lots/{lot}/rulings/", {"standing": "rejected", "why": "rancid"}).status_code == 201
    (hold,) = device.rows("holds/", standing="true")
    assert (hold["batch"], hold["use"], hold["reason"]) == (batch.pk, None, "rancid")


def test_a_line_that_cannot_be_is_refused_under_its_own_field(world: World, device: Device) -> None:
    batch, lot = world.batch(), a_lot(world, device)["id"]
    path, line = f"batches/{batch.pk}/uses/", {"lot": lot, "amount": "1"}
    used_at = moment(world)
    problem(device.post(path, {"used_at": used_at, "lines": []}), 400, "empty", "lines")
    problem(device.post(path, {"used_at": used_at, "lines": [line, line | {"lot": 999}]}), 404, "not_here", "lines.1.lot")
    problem(device.post(path, {"used_at": used_at, "lines": [line, line | {"amount": "0"}]}), 400, field="lines.1.amount")
    problem(device.post(path, {"used_at": "2199-01-01T00:00:00Z", "lines": [line]}), 400, "future", "used_at")
    assert Movement.objects.within(world.workshop).count() == 1


def test_stock_says_what_is_here_and_how_long_it_lasts(world: World, device: Device, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("api.views.timezone", SimpleNamespace(now=lambda: world.now))
    lot = a_lot(world, device, amount="3000")
    a_lot(world, device, standing="quarantine", amount="50")
    device.post(f"batches/{world.batch().pk}/uses/", {"used_at": moment(world), "lines": [{"lot": lot["id"], "amount": "900"}]})
    world.material("Coconut oil")
    nothing, oil = device.rows("stock/")
    assert (oil["on_hand"], oil["usable"]) == ("2150.000", "2100.000")
    assert oil["days_of_cover"] == pytest.approx(2100 / oil["use_a_day"])
    assert (nothing["on_hand"], nothing["usable"], nothing["use_a_day"], nothing["days_of_cover"]) == (
        "0.000",
        "0.000",
        None,
        None,
    )


def upload(device: Device, lot: int, name: str, content: bytes, **headers: str) -> HttpResponse:
    return device.client.post(f"{V1}lots/{lot}/files/", {"file": SimpleUploadedFile(name, content)}, headers=headers)


def test_a_paper_is_attached_and_fetched(world: World, device: Device) -> None:
    lot = a_lot(world, device)["id"]
    made = upload(device, lot, "Analyse für Öl.pdf", PDF)
    assert (made.status_code, made.json()["content_type"], made.json()["size_bytes"]) == (201, "application/pdf", len(PDF))
    fetched = device.get(f"files/{made.json()['id']}/content/")
    assert (fetched.content, fetched["Content-Type"]) == (PDF, "application/pdf")
    assert fetched["Content-Disposition"].startswith("attachment; filename*=utf-8''Analyse%20f%C3%BCr")
    assert fetched["X-Content-Type-Options"] == "nosniff"
    assert device.get(f"files/{made.json()['id']}/").json() == device.rows(f"lots/{lot}/files/")[0]


def test_a_paper_under_a_key_is_attached_once_whatever_marks_part_it(world: World, device: Device) -> None:
    lot = a_lot(world, device)["id"]
    key = {"Idempotency-Key": '"a"'}
    first = upload(device, lot, "a.pdf", PDF, **key)
    boundary = b"--other\r\nContent-Disposition: form-data; name=file; filename=a.pdf\r\n\r\n" + PDF + b"\r\n--other--\r\n"
    kind = "multipart/form-data; boundary=other"
    again = device.client.post(f"{V1}lots/{lot}/files/", boundary, content_type=kind, headers=key)
    assert (first.status_code, again.content) == (201, first.content)
    problem(upload(device, lot, "a.pdf", PDF + b"\n", **key), 422, "key_used")
    problem(upload(device, lot, "b.pdf", PDF, **key), 422, "key_used")
    assert LotFile.objects.within(world.workshop).count() == 1


def test_a_paper_that_cannot_be_taken_is_answered_in_words(world: World, device: Device) -> None:
    lot = a_lot(world, device)["id"]
    problem(upload(device, lot, "a.exe", b"MZ\x00\x01"), 400, "file_runs", "file")
    problem(upload(device, lot, "a.pdf", b""), 400, "empty", "file")
    problem(upload(device, lot, "a.pdf", b"%PDF-" + b"x" * MOST_BYTES), 400, "too_large", "file")
    problem(upload(device, lot, "a.pdf", b"%PDF-" + b"x" * (MOST_BYTES + 2**17)), 413, "too_large")
    path = f"{V1}lots/{lot}/files/"
    problem(device.client.post(path, {"file": "text"}), 400, "invalid", "file")
    problem(device.client.post(path, {}), 400, "required", "file")
    problem(device.client.post(path, {"other": "x"}), 400)
    problem(device.client.post(path, {f"f{number}": "x" for number in range(1500)}), 400, "malformed")
    problem(device.client.post(path, {"file": "x" * 3_000_000}), 413, "too_large")
    problem(device.client.post(path, b"x", content_type="multipart/form-data"), 400, "malformed")
    problem(device.client.post(path, b"boo", content_type="multipart/form-data; boundary=x"), 400)
    problem(device.client.post(path, "{}", content_type="application/json"), 415)
    assert not LotFile.objects.within(world.workshop).exists()


def test_a_paper_whose_content_is_changed_or_gone_is_said_to_be(world: World, device: Device) -> None:
    made = upload(device, a_lot(world, device)["id"], "a.txt", b"unlike any other").json()
    lies_at = uploads.path_of(LotFile.objects.within(world.workshop).get().kept_as)
    assert lies_at.name not in str(made), "where it lies is nobody's business"
    lies_at.write_bytes(b"unlike any OTHER")
    problem(device.get(f"files/{made['id']}/content/"), 409, "content_changed")
    lies_at.unlink()
    problem(device.get(f"files/{made['id']}/content/"), 404, "content_gone")


def test_a_reader_of_another_house_sees_and_books_nothing(world: World, device: Device, strange_device: Device) -> None:
    lot = a_lot(world, device)
    assert strange_device.rows("lots/") == strange_device.rows("movements/") == strange_device.rows("stock/") == []
    sent = {"material": lot["material"], "amount": 1, "received_on": "2026-03-01"}
    problem(strange_device.post("lots/", sent), 404, "not_here", "material")
    batch = strange_device.world.batch()
    used = {"used_at": moment(world), "lines": [{"lot": lot["id"], "amount": 1}]}
    problem(strange_device.post(f"batches/{batch.pk}/uses/", used), 404, "not_here", "lines.0.lot")
    assert Lot.objects.within(world.workshop).get().on_hand == Decimal("2500.5")
