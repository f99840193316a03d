"""Label weights by the API: proposed, kept, and the same as the page's."""

from datetime import timedelta
from typing import Any

from curehouse.making.models import Batch
from tests.api.device import Device, problem
from tests.curing.test_labels import cure_of, dries_on, foretold
from tests.web.visitor import pass_or_fail
from tests.world import World


def asked(batch: Batch, **changes: Any) -> dict[str, Any]:
    packed_on = (batch.cut_at + timedelta(days=42)).date().isoformat()
    return {"rule": "directive_76_211", "packed_on": packed_on, "shelf_months": 12, "probability": "0.95", **changes}


def test_what_is_proposed_is_kept_with_its_basis(world: World, device: Device) -> None:
    batch = foretold(world)
    told = device.get(f"batches/{batch.pk}/label-proposal/", **asked(batch, wanted_g="125")).json()
    assert told["chance"] >= 0.95 > told["next_up_chance"]
    assert told["cut_to_g"] > told["days"][0]["mean_g"]
    assert [day["day"] for day in told["days"]] == [42, 42 + 365]
    assert all(day["weight_g"]["p10"] < day["mean_g"] < day["weight_g"]["p90"] for day in told["days"])
    assert device.rows("labels/") == []
    answer = device.post(f"batches/{batch.pk}/labels/", asked(batch, basis=told["basis"]))
    assert answer.status_code == 201, answer.content
    kept = answer.json()
    assert (kept["weight_g"], kept["chance"], kept["bars"]) == (told["weight_g"], told["chance"], 24)
    assert kept["forecast_fingerprint"] == cure_of(batch).forecast.fingerprint == told["forecast_fingerprint"]
    assert kept["days"] == told["days"]
    assert (kept["still_allowed"], kept["chance_now"], kept["signed_by"]) == (True, kept["chance"], "Bench tablet")
    assert device.rows("labels/", batch=batch.pk) == [kept] == device.rows(f"batches/{batch.pk}/labels/")


def test_a_weight_may_not_be_sent(world: World, device: Device) -> None:
    batch = foretold(world)
    answer = device.post(f"batches/{batch.pk}/labels/", asked(batch, weight_g="200"))
    problem(answer, 400, field="weight_g")
    assert device.rows("labels/") == []


def test_another_forecast_by_now_is_a_conflict_and_the_kept_label_says_so(world: World, device: Device) -> None:
    batch = foretold(world)
    basis = device.get(f"batches/{batch.pk}/label-proposal/", **asked(batch)).json()["basis"]
    device.post(f"batches/{batch.pk}/labels/", asked(batch))
    dries_on(world, batch)
    problem(device.post(f"batches/{batch.pk}/labels/", asked(batch, basis=basis)), 409, "moved_on")
    (kept,) = device.rows("labels/")
    assert kept["still_allowed"] is False
    assert kept["chance_now"] < kept["chance"]


def test_what_cannot_be_asked_names_its_field(world: World, device: Device) -> None:
    batch = foretold(world)
    problem(device.post(f"batches/{batch.pk}/labels/", asked(batch, shelf_months=5)), 400, "shelf_months", "shelf_months")
    early = batch.cut_at.date().isoformat()
    problem(device.get(f"batches/{batch.pk}/label-proposal/", **asked(batch, packed_on=early)), 400, field="packed_on")


def test_what_keeps_bars_in_the_house_stands_with_forecast_and_label_and_none_is_kept(world: World, device: Device) -> None:
    batch = foretold(world)
    device.post(f"batches/{batch.pk}/labels/", asked(batch))
    told = device.get(f"batches/{batch.pk}/label-proposal/", **asked(batch)).json()
    assert told["in_the_way"] == []
    pass_or_fail(world, batch, passed=False)
    says = "The last safety check failed, so these bars go to nobody: test again after a week or more, rework or destroy them."
    stands = [{"code": "check_failed", "says": says}]
    assert device.get(f"batches/{batch.pk}/label-proposal/", **asked(batch)).json()["in_the_way"] == stands
    assert [row["in_the_way"] for row in device.rows("labels/")] == [stands]
    assert [row["in_the_way"] for row in device.rows("forecasts/", latest="true")] == [stands]
    problem(device.post(f"batches/{batch.pk}/labels/", asked(batch)), 409, "check_failed")
    assert len(device.rows("labels/")) == 1
