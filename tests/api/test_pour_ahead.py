"""When bars of a pour that is still to come are dry enough, as a script asks it: the same figures as the page's."""

from datetime import date, timedelta

import pytest

from curehouse.flows.pour_ahead import pour_ahead
from curehouse.making.models import FormulaVersion
from curehouse.making.services.formulas import write_formula
from tests.api.device import Device, problem
from tests.formulas import formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _now(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)


@pytest.fixture
def version(world: World) -> FormulaVersion:
    return write_formula(actor=world.actor, entry=formula_entry(), at=world.now)


def day(world: World, days: int) -> date:
    return world.now.date() + timedelta(days=days)


def test_it_tells_the_same_as_the_flow(world: World, device: Device, version: FormulaVersion) -> None:
    pour_on, wanted_on = day(world, 3), day(world, 60)
    answer = device.get(f"versions/{version.pk}/ready/", pour_on=pour_on.isoformat(), wanted_on=wanted_on.isoformat()).json()
    found = pour_ahead(version=version, at=world.now, pour_on=pour_on, wanted_on=wanted_on)
    assert answer["chance"] == found.chance(pour_on=pour_on, wanted_on=wanted_on)
    told = {one["share"]: one["day"] for one in answer["dry_on"]}
    assert told[0.95] == found.dry_on(0.95, pour_on=pour_on).isoformat()
    assert [one["pour_on"] for one in answer["pour_by"]] == [
        date.fromordinal(one.pour_on).isoformat() for one in found.latest(wanted_on)
    ]
    assert (answer["cures"], answer["own"]) == (0, {"took_days": [], "never": 0, "next_within_days": None})


def test_of_one_day_only_what_it_asks_is_told(world: World, device: Device, version: FormulaVersion) -> None:
    answer = device.get(f"versions/{version.pk}/ready/", wanted_on=day(world, 60).isoformat()).json()
    assert (answer["dry_on"], answer["chance"], len(answer["pour_by"])) == ([], None, 3)


@pytest.mark.parametrize("asked", [{}, {"pour_on": "2020-01-01"}, {"wanted_on": "soon"}])
def test_days_that_cannot_be_are_answered_in_words(device: Device, version: FormulaVersion, asked: dict[str, str]) -> None:
    problem(device.get(f"versions/{version.pk}/ready/", **asked), 400)
