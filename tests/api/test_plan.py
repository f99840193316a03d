"""A run looked at whole, as a script asks for it: the parts are those that their own addresses answer."""

from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.making.models import FormulaVersion
from curehouse.making.services.formulas import write_formula
from curehouse.workshops.models import Member
from curehouse.workshops.roles import Role
from tests.api.device import Device, problem
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _now(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)


@pytest.fixture
def version(world: World) -> FormulaVersion:
    world.rack(levels=1, places=2, capacity=24)
    olive, lye = world.material("Olive oil", kind="fat"), world.material("Sodium hydroxide", kind="lye")
    world.lot("1600", material=olive, unit_cost=Decimal("0.005"))
    world.lot("5000", material=lye, unit_cost=Decimal("0.006"))
    entry = formula_entry(lines=(fat("olive", "1000", material=olive), *LIQUIDS), naoh_from=lye)
    return write_formula(actor=world.actor, entry=entry, at=world.now)


def asked(world: World, **more: object) -> dict[str, object]:
    return {"fats_g": "2000", "pour_on": (world.now.date() + timedelta(days=5)).isoformat(), **more}


def test_it_answers_what_each_part_answers_by_itself(world: World, device: Device, version: FormulaVersion) -> None:
    wanted = {"wanted_on": (world.now.date() + timedelta(days=70)).isoformat()}
    told = device.get(f"versions/{version.pk}/plan/", **asked(world, bars=30, **wanted)).json()
    assert told["check"] == device.get(f"versions/{version.pk}/run-check/", **asked(world)).json()
    assert told["places"] == device.get(f"versions/{version.pk}/places/", **asked(world, bars=30)).json()
    days = {"pour_on": asked(world)["pour_on"], **wanted}
    assert told["ready"] == device.get(f"versions/{version.pk}/ready/", **days).json()
    assert told["ready"]["chance"] > 0.5


def test_the_cost_is_that_of_the_lots_and_what_is_not_in_it_is_named(
    world: World, device: Device, version: FormulaVersion
) -> None:
    cost = device.get(f"versions/{version.pk}/plan/", **asked(world, bars=30)).json()["cost"]
    oil, lye = cost["lines"]
    assert (oil["name"], Decimal(oil["amount_g"]), Decimal(oil["cost"])) == ("Olive oil", 1600, 8)
    whole = 8 + Decimal(lye["amount_g"]) * Decimal("0.006")
    assert (cost["total"], cost["a_bar"]) == (f"{whole:.2f}", f"{whole / 30:.2f}")
    assert cost["unknown"] == ["goat's milk"]
    assert [(one["name"], Decimal(one["amount_g"])) for one in cost["short"]] == [("Olive oil", 400)]


def test_whoever_sees_no_costs_is_answered_none(world: World, device: Device, version: FormulaVersion) -> None:
    Member.objects.within(world.workshop).filter(user=world.owner).update(role=Role.HELPER)
    told = device.get(f"versions/{version.pk}/plan/", **asked(world, bars=30)).json()
    assert told["cost"] is None


def test_what_cannot_be_told_is_null_with_why(world: World, device: Device, version: FormulaVersion) -> None:
    told = device.get(f"versions/{version.pk}/plan/", **asked(world)).json()
    assert (told["places"], told["cost"]["a_bar"]) == (None, None)
    assert "say how many" in told["why_no_places"]
    problem(device.get(f"versions/{version.pk}/plan/", fats_g="2000", pour_on="2020-01-01"), 400)
    problem(device.get(f"versions/{version.pk}/plan/", **asked(world, wanted_on="2026-03-11")), 400)
