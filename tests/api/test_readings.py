"""Weighings through the API, one by one."""

import uuid
from datetime import timedelta
from typing import Any

from curehouse.curing.models import Cure, Reading
from tests.api.device import Device, problem, reading
from tests.world import World


def test_a_weighing_is_written_and_the_batch_wants_assessing(world: World, device: Device) -> None:
    batch = world.batch()
    answer = device.post("readings/", reading(world.bar(batch), "120.5", world.days_ago(29), scale=world.scale.pk))
    assert answer.status_code == 201, answer.content
    made = answer.json()
    assert (made["weight_g"], made["letter"], made["standing"], made["doubt"]) == ("120.500", "A", "counts", None)
    assert made["source"] == "api"
    assert Cure.objects.within(world.workshop).get().assess_wanted_at is not None
    assert device.get(f"readings/{made['id']}/").json() == made


def test_a_weighing_sent_again_is_answered_and_not_written_twice(world: World, device: Device) -> None:
    sent = reading(world.bar(world.batch()), "120.5", world.days_ago(29))
    first, second = device.post("readings/", sent), device.post("readings/", sent)
    assert (first.status_code, second.status_code) == (201, 200)
    assert first.json() == second.json()
    assert Reading.objects.within(world.workshop).count() == 1


def test_another_weighing_under_a_used_id_is_refused(world: World, device: Device) -> None:
    sent = reading(world.bar(world.batch()), "120.5", world.days_ago(29))
    device.post("readings/", sent)
    problem(device.post("readings/", sent | {"weight_g": "121.5"}), 409, "id_used", "client_id")


def test_two_houses_may_use_one_id(world: World, stranger: World, device: Device, strange_device: Device) -> None:
    sent = reading(world.bar(world.batch()), "120.5", world.days_ago(29))
    theirs = sent | {"bar": stranger.bar(stranger.batch()).pk}
    assert device.post("readings/", sent).status_code == 201
    assert strange_device.post("readings/", theirs).status_code == 201


def test_a_weight_as_typed_is_read_in_its_unit(world: World, device: Device) -> None:
    # 1 oz is 28.349523125 g by definition (NIST Handbook 44, Appendix C).
    bar = world.bar(world.batch())
    for typed, unit, weight_g in (("4,25", "oz", "120.485"), (" 4.25", "oz", "120.485"), (120.4, "g", "120.400")):
        sent = reading(bar, None, world.days_ago(29), weight=typed, unit=unit)
        del sent["weight_g"]
        answer = device.post("readings/", sent)
        assert (answer.status_code, answer.json().get("weight_g")) == (201, weight_g), answer.content


def test_a_weight_typed_with_a_sign_is_still_looked_at(world: World, device: Device) -> None:
    bar = world.bar(world.batch())
    world.weigh(bar, "120.6", moment=world.days_ago(29))
    sent = reading(bar, None, world.days_ago(28), weight="+210.0", unit="g")
    del sent["weight_g"]
    answer = device.post("readings/", sent)
    assert answer.status_code == 201, answer.content
    assert answer.json()["doubt"]["guess_g"] == "120.000"


def test_a_doubtful_weight_is_written_and_asked_about(world: World, device: Device) -> None:
    bar = world.bar(world.batch())
    world.weigh(bar, "120.0", moment=world.days_ago(29))
    answer = device.post("readings/", reading(bar, "1195", world.days_ago(28)))
    made = answer.json()
    assert (answer.status_code, made["standing"], made["doubt"]["kind"]) == (201, "asked", "decimal_slip")
    assert made["doubt"]["guess_g"] == "119.500"
    assert made["doubt"]["question"]


def doubtful(world: World, device: Device) -> dict[str, Any]:
    bar = world.bar(world.batch())
    world.weigh(bar, "120.0", moment=world.days_ago(29))
    return device.post("readings/", reading(bar, "1195", world.days_ago(28))).json()


def test_a_doubtful_weight_is_kept(world: World, device: Device) -> None:
    made = doubtful(world, device)
    answer = device.post(f"readings/{made['id']}/keep/")
    assert (answer.status_code, answer.json()["standing"]) == (200, "counts")


def test_a_weight_is_struck_out_with_a_reason(world: World, device: Device) -> None:
    made = doubtful(world, device)
    problem(device.post(f"readings/{made['id']}/strike/", {"reason": " "}), 400, "blank", "reason")
    answer = device.post(f"readings/{made['id']}/strike/", {"reason": "wrong batch"})
    assert (answer.status_code, answer.json()["standing"]) == (200, "struck")


def test_a_weight_is_corrected_by_a_new_row_once(world: World, device: Device) -> None:
    made = doubtful(world, device)
    sent = {"client_id": str(uuid.uuid4()), "moment": made["moment"], "weight_g": "119.5"}
    first, again = (device.post(f"readings/{made['id']}/correct/", sent) for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 200)
    assert (first.json()["corrects"], first.json()["standing"]) == (made["id"], "counts")
    assert device.get(f"readings/{made['id']}/").json()["standing"] == "corrected"
    other = sent | {"client_id": str(uuid.uuid4())}
    problem(device.post(f"readings/{made['id']}/correct/", other), 409, "corrected", "reading")
    problem(device.post(f"readings/{made['id']}/keep/"), 409, "corrected", "reading")


BAD_READINGS: list[tuple[dict[str, Any], str, str]] = [
    ({"client_id": "seven"}, "invalid", "client_id"),
    ({"client_id": 7.5}, "invalid", "client_id"),
    ({"client_id": None}, "null", "client_id"),
    ({"weight_g": 0}, "weight", "weight_g"),
    ({"weight_g": -120}, "weight", "weight_g"),
    ({"weight_g": "25000"}, "weight", "weight_g"),
    ({"weight_g": "120,5"}, "invalid", "weight_g"),
    ({"weight_g": "NaN"}, "invalid", "weight_g"),
    ({"weight_g": None}, "null", "weight_g"),
    ({"weight_g": "120.1234"}, "max_decimal_places", "weight_g"),
    ({"weight_g": [120]}, "invalid", "weight_g"),
    ({"weight": "120", "unit": "g"}, "one_weight", "weight_g"),
    ({"unit": "g"}, "unit", "unit"),
    ({"unit": "stone"}, "invalid_choice", "unit"),
    ({"moment": "2026-03-01T10:00:00"}, "naive", "moment"),
    ({"moment": "soon"}, "invalid", "moment"),
    ({"moment": "2150-01-01T00:00:00Z"}, "future", "moment"),
    ({"moment": "2020-01-01T00:00:00Z"}, "before_cut", "moment"),
    ({"scale": 4711}, "not_here", "scale"),
    ({"scale": "kitchen"}, "invalid", "scale"),
    ({"bar": 4711}, "not_here", "bar"),
    ({"bar": 2**63}, "max_value", "bar"),
    ({"firmness": "wobbly"}, "invalid_choice", "firmness"),
    ({"dent_mm": "2.5"}, "dent_tool", "dent_tool"),
    ({"dent_mm": "-1", "dent_tool": "needle 1 mm, 200 g"}, "dent_tool", "dent_tool"),
    ({"weigth_g": 3}, "unknown_field", "weigth_g"),
]


def test_a_weighing_that_cannot_be_right_is_refused_and_not_written(world: World, device: Device) -> None:
    bar = world.bar(world.batch())
    for changes, code, field in BAD_READINGS:
        sent = reading(bar, "120.0", world.days_ago(29)) | changes
        problem(device.post("readings/", sent), 404 if code == "not_here" else 400, code, field)
    assert not Reading.objects.within(world.workshop).exists()


def test_a_typed_weight_that_cannot_be_right_names_its_field(world: World, device: Device) -> None:
    bar = world.bar(world.batch())
    for typed, code in (
        ("1,234.5", "not_a_number"),
        ("\u0661\u0662", "not_a_number"),
        ("0", "not_positive"),
        ("9" * 30, "too_large"),
    ):
        sent = reading(bar, None, world.days_ago(29), weight=typed, unit="g")
        del sent["weight_g"]
        problem(device.post("readings/", sent), 400, code, "weight")


def test_a_weighing_without_an_id_is_refused(world: World, device: Device) -> None:
    sent = reading(world.bar(world.batch()), "120.0", world.days_ago(29))
    del sent["client_id"]
    problem(device.post("readings/", sent), 400, "required", "client_id")


def test_a_bar_or_scale_of_the_house_next_door_is_not_here(world: World, stranger: World, device: Device) -> None:
    ours, theirs = world.bar(world.batch()), stranger.bar(stranger.batch())
    sent = reading(theirs, "120.0", world.days_ago(29))
    problem(device.post("readings/", sent), 404, "not_here", "bar")
    sent = reading(ours, "120.0", world.days_ago(29), scale=stranger.scale.pk)
    problem(device.post("readings/", sent), 404, "not_here", "scale")
    made = stranger.weigh(theirs, "120.0", moment=stranger.days_ago(29))
    for verb in ("", "keep/", "strike/", "correct/"):
        ask = device.post if verb else device.get
        problem(ask(f"readings/{made.pk}/{verb}"), 404, "not_here")


def test_a_bar_not_cut_yet_does_not_exist_and_more_are_marked_later(world: World, device: Device) -> None:
    batch = world.batch(cut_days_ago=10, sample_bars=1)
    answer = device.post("sample-bars/", {"batch": batch.pk, "sample_bars": 2})
    assert (answer.status_code, [bar["letter"] for bar in answer.json()]) == (201, ["B", "C"])
    problem(device.post("sample-bars/", {"batch": batch.pk, "sample_bars": 40}), 400, "sample_bars", "sample_bars")
    problem(device.post("sample-bars/", {"batch": 4711, "sample_bars": 1}), 404, "not_here", "batch")


def test_a_sample_bar_that_is_gone_is_not_weighed_any_more(world: World, device: Device) -> None:
    bar = world.bar(world.batch(sample_bars=1))
    answer = device.post(f"sample-bars/{bar.pk}/end/", {"why": "sold early"})
    assert (answer.status_code, answer.json()["ended_why"]) == (200, "sold early")
    assert Cure.objects.within(world.workshop).get().due_on is None
    assert device.rows("sample-bars/", weighed="true") == []
    problem(device.post(f"sample-bars/{bar.pk}/end/", {"why": "again"}), 409, "bar_ended")


def test_readings_are_found_by_bar_batch_standing_and_moment(world: World, device: Device) -> None:
    batch, other = world.batch(), world.batch()
    world.weigh_series(batch, {1: "120.0", 8: "116.0"}, letters="AB")
    world.weigh_series(other, {1: "120.0"}, letters="A")
    bar = world.bar(batch)
    eighth = (batch.cut_at + timedelta(days=8)).isoformat()
    assert len(device.rows("readings/")) == 5
    assert len(device.rows("readings/", batch=batch.pk)) == 4
    assert len(device.rows("readings/", bar=bar.pk)) == 2
    assert len(device.rows("readings/", batch=batch.pk, moment_after=eighth)) == 2
    assert len(device.rows("readings/", batch=batch.pk, moment_before=eighth)) == 2
    assert device.rows("readings/", standing="asked") == []
