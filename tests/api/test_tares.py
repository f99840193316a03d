"""Tares of a scale over the API: added, taken out of use, and asked about by name."""

from datetime import timedelta

from curehouse.workshops.services import retire_scale
from tests.api.device import Device, problem, reading
from tests.world import World


def test_a_tare_is_added_to_its_scale_and_taken_out_of_use(world: World, device: Device) -> None:
    path = f"scales/{world.scale.pk}/"
    added = device.post(f"{path}tares/", {"name": "tray", "weight_g": "84.0"})
    assert added.status_code == 201, added.content
    (tare,) = added.json()["tares"]
    assert (tare["name"], tare["weight_g"]) == ("tray", "84.000")
    problem(device.post(f"{path}tares/", {"name": "tray", "weight_g": "90"}), 400, "name_taken", "name")
    problem(device.post(f"{path}tares/", {"name": "bowl", "weight_g": "0.01"}), 400, "weight", "weight_g")
    assert device.get(path).json()["tares"] == [tare]
    for _ in range(2):
        assert device.post(f"tares/{tare['id']}/retire/").json()["tares"] == []


def test_a_scale_out_of_use_gets_no_tare(world: World, device: Device) -> None:
    retire_scale(scale=world.scale, at=world.now)
    answer = device.post(f"scales/{world.scale.pk}/tares/", {"name": "tray", "weight_g": "84.0"})
    assert problem(answer, 409, "retired")["detail"] == "Kitchen scale is out of use: add the tare to a scale in use."
    assert device.get(f"scales/{world.scale.pk}/").json()["tares"] == []


def test_a_weight_off_by_a_tare_says_so(world: World, device: Device) -> None:
    device.post(f"scales/{world.scale.pk}/tares/", {"name": "tray", "weight_g": "84.0"})
    batch = world.batch()
    world.weigh_series(batch, {0: "130.0", 7: "125.0", 14: "123.0"})
    sent = reading(world.bar(batch), "205.6", batch.cut_at + timedelta(days=21), scale=world.scale.pk)
    doubt = device.post("readings/", sent).json()["doubt"]
    assert {name: doubt[name] for name in ("kind", "guess_g", "question", "tare", "tare_g")} == {
        "kind": "tare",
        "guess_g": "121.600",
        "question": "Was the tray on the scale?",
        "tare": "tray",
        "tare_g": "84.000",
    }
