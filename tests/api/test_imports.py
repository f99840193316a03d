"""A spreadsheet comes in through the API: sent, checked, looked at, brought in."""

import json
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse

from curehouse.flows.bring_in.door import carry_on
from curehouse.flows.bring_in.progress import keeper
from curehouse.intake.models import Import
from curehouse.making.models import Batch
from tests.api.device import V1, Device, problem
from tests.world import World

HEAD = "batch,formula,bar,water,cut,day,weight\n"
ROW = "Fern 1,Fern,b1,31 %,2024-01-02,7,120.5\n"
LATER = "Fern 1,Fern,b1,31 %,2024-01-02,14,118.5\n"


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()


def send(device: Device, content: str, *, headers: dict[str, str] | None = None, **said: Any) -> HttpResponse:
    form = {"kind": "batches", "file": SimpleUploadedFile("log.csv", content.encode())} | said
    return device.client.post(V1 + "imports/", form, headers=headers or {})


def sent(device: Device, content: str, **said: Any) -> dict[str, Any]:
    answer = send(device, content, **said)
    assert answer.status_code == 201, answer.content
    assert answer["Location"] == f"{V1}imports/{answer.json()['id']}/"
    return answer.json()


def worked_at(world: World, device: Device, key: int) -> dict[str, Any]:
    """Return the import once the worker was at it."""
    carry_on(workshop_id=world.workshop.pk, import_id=key, at=world.now)
    return device.get(f"imports/{key}/").json()


def test_a_file_is_sent_checked_and_brought_in(world: World, device: Device) -> None:
    begun = sent(device, HEAD + ROW + LATER)
    assert (begun["state"], begun["outcome"], begun["name"]) == ("checking", None, "log.csv")
    path = f"imports/{begun['id']}/"
    problem(device.post(f"{path}bringing/"), 409, "not_checked")
    checked = worked_at(world, device, begun["id"])
    assert (checked["state"], checked["outcome"]["adds"]["weighings"]) == ("checked", 2)
    assert not Batch.objects.within(world.workshop).exists()
    bringing = device.post(f"{path}bringing/")
    assert (bringing.status_code, bringing.json()["state"]) == (202, "bringing")
    brought = worked_at(world, device, begun["id"])
    assert (brought["state"], brought["signed_by"]) == ("brought", "Bench tablet")
    assert Batch.objects.within(world.workshop).get().known_as == "Fern 1"
    problem(device.post(f"{path}checks/"), 409, "brought")
    (line,) = device.rows("imports/", state="brought", kind="batches")
    assert line["outcome"] == {name: brought["outcome"][name] for name in ("rows_read", "refused_rows", "adds", "known")}


def test_a_row_that_is_refused_is_named_with_its_cell_and_keeps_all_of_it_out(world: World, device: Device) -> None:
    key = sent(device, HEAD + ROW + ROW.replace("120.5", "heavy"))["id"]
    checked = worked_at(world, device, key)
    (refusal,) = checked["outcome"]["refusals"]
    assert (refusal["row"], refusal["header"], refusal["value"]) == (3, "weight", "heavy")
    assert refusal["why"]
    problem(device.post(f"imports/{key}/bringing/"), 409, "refused_rows")


def test_columns_and_the_rest_are_said_by_option(world: World, device: Device) -> None:
    table = "Los;Seife;Stück;an;vom;g\nF1;Fern;b1;09.01.2024;02.01.2024;120,5\n"
    columns = {"los": "batch", "Seife": "formula", "Stück": "bar", "an": "weighed_on", "vom": "cut_on", "g": "weight"}
    begun = sent(device, table, columns=json.dumps(columns), date_order="dmy", decimal="comma", water_share="31 %")
    checked = worked_at(world, device, begun["id"])
    assert checked["state"] == "checked", checked
    assert checked["outcome"]["refusals"] == []
    assert checked["outcome"]["adds"]["weighings"] == 1
    assert (checked["options"]["unit"], checked["options"]["date_order"]) == ("g", "dmy")


def test_a_file_is_checked_again_as_it_is_said_to_be_read_now(world: World, device: Device) -> None:
    key = sent(device, HEAD.replace("water,", "") + ROW.replace("31 %,", ""))["id"]
    assert worked_at(world, device, key)["outcome"]["refused_rows"] == 1
    again = device.post(f"imports/{key}/checks/", {"water_share": "0.31"})
    assert (again.status_code, again.json()["state"]) == (202, "checking")
    assert worked_at(world, device, key)["outcome"]["adds"]["weighings"] == 1


def test_cut_dates_may_stand_in_a_second_file(world: World, device: Device) -> None:
    beside = SimpleUploadedFile("cuts.csv", b"batch,cut\nFern 1,2024-01-02\n")
    key = sent(device, HEAD.replace("cut,", "") + ROW.replace("2024-01-02,", ""), beside=beside)["id"]
    assert worked_at(world, device, key)["outcome"]["adds"]["weighings"] == 1


def test_what_cannot_be_read_is_refused_in_words_and_nothing_is_kept(world: World, device: Device) -> None:
    problem(send(device, HEAD + ROW, kind="gossip"), 400, "invalid_choice", "kind")
    problem(send(device, HEAD + ROW, columns='{"boo": "batch"}'), 400, "columns", "columns")
    problem(send(device, HEAD + ROW, columns='{"batch": "boo"}'), 400, "columns", "columns")
    problem(send(device, HEAD + ROW, columns="[]"), 400, "invalid", "columns")
    problem(send(device, HEAD + ROW, beside_columns='{"batch": "batch"}'), 400, "beside", "beside_columns")
    problem(send(device, HEAD + ROW, date_order="ymd"), 400, "invalid_choice", "date_order")
    problem(send(device, HEAD + ROW, header_row="-3"), 400)
    problem(send(device, HEAD + ROW, encoding="klingon"), 400)
    problem(send(device, ""), 400, "empty", "file")
    problem(send(device, "\0\1\2"), 400, field="file")
    problem(send(device, HEAD + ROW, file="text"), 400, "invalid", "file")
    assert not Import.objects.within(world.workshop).exists()


def test_a_file_under_a_key_is_sent_once(world: World, device: Device) -> None:
    key = {"Idempotency-Key": '"log"'}
    first, again = (send(device, HEAD + ROW, headers=key) for _ in range(2))
    assert (first.status_code, again.content, again["Location"]) == (201, first.content, first["Location"])
    problem(send(device, HEAD + LATER, headers=key), 422, "key_used")
    assert Import.objects.within(world.workshop).count() == 1


def test_how_far_it_is_is_said_while_it_is_under_way(world: World, device: Device) -> None:
    key = sent(device, HEAD + ROW)["id"]
    keeper(Import.objects.within(world.workshop).get(pk=key))("checking", 3, 10)
    progress = device.get(f"imports/{key}/").json()["progress"]
    assert progress.pop("said_at") is not None
    assert progress == {"step": "checking", "done": 3, "of": 10}
    assert worked_at(world, device, key)["progress"] is None


@pytest.mark.parametrize(
    ("kind", "table", "adds"),
    [
        ("suppliers", "supplier,contact\nBrook Mill,orders@brookmill.example\n", "suppliers"),
        ("stock", "material,material_kind,amount,received_on\nShea butter,fat,2 kg,2024-01-02\n", "lots"),
    ],
)
def test_other_kinds_come_in_the_same_way(world: World, device: Device, kind: str, table: str, adds: str) -> None:
    key = sent(device, table, kind=kind)["id"]
    checked = worked_at(world, device, key)
    assert (checked["state"], checked["outcome"]["refusals"]) == ("checked", []), checked
    assert checked["outcome"]["adds"][adds] == 1
    assert device.post(f"imports/{key}/bringing/").status_code == 202
    assert worked_at(world, device, key)["state"] == "brought"
    assert len(device.rows(f"{adds}/")) == 1


def test_files_that_are_too_large_are_told_how_large_one_may_be(device: Device) -> None:
    content = "x" * (60 * 2**20 + 2**17)
    answer = problem(send(device, content), 413, "too_large")
    assert "keep each to 30 MB, and send no more than 2" in str(answer)


def test_a_stock_list_is_taken_as_of_the_day_that_is_said(world: World, device: Device) -> None:
    table = "material,kind,amount,received\nOlive oil,fat,5.5 kg,2026-01-05\n"
    body = problem(send(device, table, kind="stock", as_of="last week"), 400, field="as_of")
    assert "The day of the stock list, “last week”, is no date" in body["detail"]
    key = sent(device, table, kind="stock", as_of="2026-03-01 18:30")["id"]
    checked = worked_at(world, device, key)
    assert "there on 2026-03-01 18:30" in checked["outcome"]["remarks"][0]
    device.post(f"imports/{key}/bringing/")
    worked_at(world, device, key)
    (lot,) = device.rows("lots/")
    (listed,) = device.rows(f"lots/{lot['id']}/counts/")
    assert (listed["by_list"], listed["counted"], listed["moment"]) == (True, "5500.000", "2026-03-01T17:30:00Z")
    # What was used before it was lacking already, what was used from then on comes off.
    uses = "material,amount,used on\nOlive oil,300 g,2026-03-01 18:00\nOlive oil,200 g,2026-03-01 19:00\n"
    key = sent(device, uses, kind="uses")["id"]
    worked_at(world, device, key)
    device.post(f"imports/{key}/bringing/")
    worked_at(world, device, key)
    assert device.get(f"lots/{lot['id']}/").json()["on_hand"] == "5300.000"
