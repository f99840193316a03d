"""What is made from others at the API: its recipe, a making, and the way of a lot."""

import pytest

from inventory.models import Blend, Lot
from tests.api.device import Device, problem
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _now(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)


def test_a_device_makes_lye_beforehand_that_waits_for_a_person(world: World, device: Device) -> None:
    lye, solution = world.material("Sodium hydroxide", kind="lye"), world.material("Lye solution", kind="lye")
    dry = world.lot("2000", material=lye)
    parts = [{"parts": "1", "material": lye.pk}, {"parts": "1", "name": "water"}]
    (recipe,) = device.post(f"materials/{solution.pk}/recipes/", {"parts": parts, "keeps_days": 60}).json()
    assert (recipe["number"], recipe["yielded"], [one["name"] for one in recipe["parts"]]) == (
        1,
        "1.0000",
        ["Sodium hydroxide", "water"],
    )
    takes = [{"amount_g": "400", "lot": dry.pk}, {"amount_g": "400", "name": "water"}]
    sent = {"made_g": "800", "takes": takes, "standing": "released", "recipe": recipe["id"]}
    problem(
        device.post(f"materials/{solution.pk}/makings/", {**sent, "made_g": "400", "standing": "quarantine"}),
        409,
        "other_strength",
    )
    problem(device.post(f"materials/{solution.pk}/makings/", sent), 403, "person_only")
    assert Lot.objects.within(world.workshop).get(pk=dry.pk).on_hand == 2000
    (made,) = device.post(f"materials/{solution.pk}/makings/", {**sent, "standing": "quarantine"}).json()
    assert [(one["lot"], one["amount_g"]) for one in made["takes"]] == [(dry.pk, "400.000"), (None, "400.000")]
    lots = {lot.pk: lot for lot in Lot.objects.within(world.workshop)}
    assert (lots[dry.pk].on_hand, lots[made["lot"]].on_hand, lots[made["lot"]].standing) == (1600, 800, "quarantine")
    back, forth = (device.get(f"lots/{pk}/trace/").json() for pk in (made["lot"], dry.pk))
    assert ([one["id"] for one in back["within"]], back["into"]) == ([dry.pk], [])
    assert ([one["id"] for one in forth["into"]], forth["batches"]) == ([made["lot"]], [])


def test_what_cannot_be_is_refused_beside_its_field(world: World, device: Device) -> None:
    mix, oil = (world.material(name, kind="fragrance") for name in ("Meadow mix", "Lavender oil"))
    lot = world.lot("50", material=oil)
    sent = {"made_g": "40", "takes": [{"amount_g": "40", "lot": lot.pk}], "recipe": 1}
    problem(device.post(f"materials/{mix.pk}/makings/", sent), 409, "no_recipe")
    problem(device.post(f"materials/{mix.pk}/recipes/", {"parts": [{"parts": "1", "material": mix.pk}]}), 400, "of_itself")
    (recipe,) = device.post(f"materials/{mix.pk}/recipes/", {"parts": [{"parts": "1", "material": oil.pk}]}).json()
    sent["recipe"] = recipe["id"]
    problem(device.post(f"materials/{mix.pk}/makings/", {**sent, "made_g": "41"}), 400, "more_than_went_in")
    device.post(f"materials/{mix.pk}/recipes/", {"parts": [{"parts": "1", "material": oil.pk}], "keeps_days": 9})
    problem(device.post(f"materials/{mix.pk}/makings/", sent), 409, "written_meanwhile")
    problem(device.post(f"materials/{mix.pk}/makings/", {key: sent[key] for key in ("made_g", "takes")}), 400, "required")
    assert device.get(f"materials/{mix.pk}/makings/").json() == []


def test_lye_is_refused_with_what_to_do(world: World, device: Device) -> None:
    lye, solution = world.material("Sodium hydroxide", kind="lye"), world.material("Lye solution", kind="lye")
    mix, fat = world.material("Meadow mix", kind="fragrance"), world.material("Shea butter", kind="fat")
    of_lye = {"parts": [{"parts": "1", "material": lye.pk}, {"parts": "1", "name": "water"}]}
    problem(device.post(f"materials/{solution.pk}/recipes/", {"parts": of_lye["parts"][:1]}), 409, "not_lye_in_water")
    for made, code in ((mix, "lye_part"), (fat, "kind_not_mixed")):
        problem(device.post(f"materials/{made.pk}/recipes/", of_lye), 409, code)
    assert not Blend.objects.within(world.workshop).exists()


def test_lye_that_may_dry_unseen_is_not_written_down(world: World, device: Device) -> None:
    lye, solution = world.material("Sodium hydroxide", kind="lye"), world.material("Lye solution", kind="lye")
    sent = {"parts": [{"parts": "1", "material": lye.pk}, {"parts": "2", "name": "water"}]}
    problem(device.post(f"materials/{solution.pk}/recipes/", sent), 409, "may_dry")
    assert not Blend.objects.within(world.workshop).exists()
