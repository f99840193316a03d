"""Assessments, notices, scales and the workshop through the API."""

from datetime import timedelta

from curehouse.curing.models import Cure
from curehouse.flows.assess import assess_batch
from curehouse.flows.foretell import foretell_wanting
from curehouse.making.models import Batch
from curehouse.notices.models import Notice
from tests.api.device import Device, problem
from tests.world import World

DRYING = {0: "120.0", 7: "112.0", 14: "109.5", 21: "108.6", 28: "108.2", 35: "108.0"}


def assessed(world: World, *, cut_days_ago: int = 36) -> Batch:
    batch = world.batch(cut_days_ago=cut_days_ago)
    world.weigh_series(batch, {day: weight_g for day, weight_g in DRYING.items() if day < cut_days_ago})
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)
    return batch


def test_a_verdict_is_given_with_its_figures_and_its_reasons(world: World, device: Device) -> None:
    batch = assessed(world)
    latest = device.rows("assessments/", batch=batch.pk, latest="true")
    assert [one["state"] for one in latest] == ["check_due"]
    # (108.2 - 108.0) / 108.0 by hand.
    assert round(latest[0]["weekly_loss_pct"], 4) == 0.1852
    assert latest[0]["reasons"][0]["text"]
    assert latest[0]["advice"]
    assert device.get(f"assessments/{latest[0]['id']}/").json() == latest[0]
    assert device.get(f"batches/{batch.pk}/").json()["cure"]["assessment"] == latest[0]["id"]


def test_every_weighing_has_its_verdict(world: World, device: Device) -> None:
    batch, other = assessed(world), assessed(world, cut_days_ago=10)
    rows = device.rows(f"batches/{batch.pk}/assessments/", ordering="moment")
    assert len(rows) == 18
    assert [row["moment"] for row in rows] == sorted(row["moment"] for row in rows)
    assert len(device.rows("assessments/", latest="true")) == 2
    assert {row["batch"] for row in device.rows("assessments/", state="check_due")} == {batch.pk}
    after = (other.cut_at + timedelta(days=7)).isoformat()
    assert device.rows("assessments/", batch=other.pk, moment_after=after, cause="reading")


def test_batches_are_found_by_state_and_due_day(world: World, device: Device) -> None:
    batch = assessed(world)
    world.batch(cut_days_ago=None)
    assert [row["id"] for row in device.rows("batches/", cure_state="check_due")] == [batch.pk]
    assert [row["state"] for row in device.rows("batches/", state="poured")] == ["poured"]
    assert [row["id"] for row in device.rows("batches/", due_by="2026-12-31")] == [batch.pk]
    assert device.rows("batches/", due_by="2026-01-01") == []
    assert len(device.rows("batches/", formula_name="goat & OAT")) == 2


def test_a_notice_is_seen_to_once(world: World, device: Device) -> None:
    batch = assessed(world)
    told = device.rows("notices/", state="open")
    assert [(one["kind"], one["about"]) for one in told] == [("check_due", f"batch:{batch.pk}")]
    assert told[0]["deliveries"][0]["to"] == "Ottilie Brandt"
    first = device.post(f"notices/{told[0]['id']}/attend/").json()
    assert (first["state"], "Bench tablet" in first["closed_why"]) == ("done", True)
    assert device.post(f"notices/{told[0]['id']}/attend/").json() == first
    assert device.rows("notices/", state="open") == []
    assert len(device.rows("notices/", batch=batch.pk)) == len(device.rows("notices/", kind="check_due")) == 1


def test_a_notice_next_door_is_not_here(stranger: World, device: Device) -> None:
    assessed(stranger)
    theirs = Notice.objects.within(stranger.workshop).first()
    problem(device.post(f"notices/{theirs.pk}/attend/"), 404, "not_here")
    assert Notice.objects.within(stranger.workshop).get(pk=theirs.pk).state == "open"


def test_a_scale_is_added_and_checked(world: World, device: Device) -> None:
    made = device.post("scales/", {"name": "Pocket scale", "step_g": "0.01"}).json()
    assert (made["step_g"], made["last_check_at"]) == ("0.010", None)
    answer = device.post(f"scales/{made['id']}/checks/", {"test_weight_g": 100, "shown_g": "100.02"})
    assert (answer.status_code, answer.json()["last_check_off_g"]) == (201, "0.020")
    assert [one["name"] for one in device.rows("scales/", in_use="true")] == ["Kitchen scale", "Pocket scale"]
    assert device.rows("scales/", in_use="false") == []
    assert device.get(f"scales/{made['id']}/").json() == answer.json()


def test_a_scale_that_cannot_be_is_refused(device: Device) -> None:
    for body, code, field in (
        ({"name": "Kitchen scale", "step_g": 1}, "name_taken", "name"),
        ({"name": "Pocket", "step_g": 0}, "step", "step_g"),
        ({"name": "Pocket", "step_g": -1}, "step", "step_g"),
        ({"name": "Pocket", "step_g": "1e9"}, "max_whole_digits", "step_g"),
        ({"name": "\u200b", "step_g": "1"}, "not_printable", "name"),
    ):
        problem(device.post("scales/", body), 400, code, field)


def test_a_scale_check_that_cannot_be_is_refused(world: World, device: Device) -> None:
    path = f"scales/{world.scale.pk}/checks/"
    problem(device.post(path, {"test_weight_g": 0, "shown_g": 1}), 400, field="test_weight_g")
    problem(device.post(path, {"test_weight_g": "x", "shown_g": 1}), 400, "invalid", "test_weight_g")


def test_the_workshop_tells_its_units_and_its_rule(world: World, device: Device) -> None:
    body = device.get("workshop/").json()
    assert (body["unit"], body["time_zone"], body["round_days"]) == ("g", "Europe/Berlin", [1])
    assert (body["min_days"], body["weekly_loss_limit_pct"], body["latest_day"]) == (28, "0.750", 56)


def test_a_forecast_is_given_with_its_window_and_what_it_rests_on(world: World, device: Device) -> None:
    batch, other = world.batch(cut_days_ago=22), world.batch(cut_days_ago=15)
    for one, upto in ((batch, 22), (other, 15)):
        world.weigh_series(one, {day: weight_g for day, weight_g in DRYING.items() if day < upto})
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    (latest,) = device.rows("forecasts/", batch=batch.pk, latest="true")
    kept = Cure.objects.within(world.workshop).select_related("forecast").get(batch=batch).forecast
    assert latest["foretold"] == kept.foretold
    assert (latest["fingerprint"], latest["prior_version"], latest["cures_learnt_from"]) == (kept.fingerprint, None, 0)
    first, last = (round(kept.foretold["ready_day"][name]) for name in ("p10", "p90"))
    window = [f"{batch.cut_at.date() + timedelta(days=day)}" for day in (first, last)]
    assert [latest["ready_from"], latest["ready_by"]] == window
    assert device.get(f"forecasts/{latest['id']}/").json() == latest
    assert device.rows(f"batches/{batch.pk}/forecasts/") == [latest]
    assert {row["batch"] for row in device.rows("forecasts/", latest="true")} == {batch.pk, other.pk}
    world.weigh(world.bar(batch), "108.4", moment=world.days_ago(0.2))
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    assert len(device.rows(f"batches/{batch.pk}/forecasts/")) == 2
    assert [row["moment"] for row in device.rows("forecasts/", batch=batch.pk, latest="true")] > [latest["moment"]]
