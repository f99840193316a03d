"""Runs whose lye cannot be told, or is not kept in the storeroom: no page, list or answer calls that enough."""

from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.flows.stock import record_value
from curehouse.making.formulas.entries import LineEntry, Role
from curehouse.making.models import FormulaVersion, Run
from curehouse.making.services.formulas import write_formula
from curehouse.making.services.runs import plan_run
from inventory.models import Material
from tests.api.device import Device
from tests.formulas import formula_entry, liquid
from tests.lye_read import read_and_confirmed
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)
    return Visitor(world)


def olive_soap(world: World, **changes: object) -> FormulaVersion:
    olive = world.material("Olive oil", kind="fat")
    lines = (LineEntry(Role.FAT, material=olive, amount=Decimal(1000)), liquid("water", "330"))
    entry = formula_entry(lines=lines, liquid=Decimal(330), superfat=Decimal("0.05"), **changes)
    return write_formula(actor=world.actor, entry=entry, at=world.now)


def unread_lye(world: World) -> FormulaVersion:
    """Return a formula whose olive oil got another value after it was kept; nobody read that yet, and no lye is in stock."""
    version = olive_soap(world, naoh_from=world.material("Sodium hydroxide", kind="lye"))
    olive = Material.objects.within(world.workshop).get(name="Olive oil")
    read_and_confirmed(
        record_value, actor=world.actor, lot=world.lot("5000", material=olive), name="SAP", value=Decimal(205), unit="",
        at=world.now, value_confirmed=True,
    )  # fmt: skip
    return version


def planned(world: World, version: FormulaVersion) -> Run:
    on = world.now.date() + timedelta(days=10)
    return plan_run(actor=world.actor, version=version, fats_g=Decimal(1000), pour_on=on, at=world.now)


def asked(world: World) -> dict[str, str]:
    return {"fats_g": "1000", "pour_on": (world.now.date() + timedelta(days=10)).isoformat()}


def test_a_run_whose_lye_cannot_be_told_is_enough_nowhere(world: World, visitor: Visitor) -> None:
    device = Device(world)
    version = unread_lye(world)
    sent = asked(world)
    words = visitor.words("version_run", version.pk, query=f"?fats_g=1000&pour_on={sent['pour_on']}")
    assert "cannot be told No amount of Sodium hydroxide is told" in words
    assert "Everything that is kept" not in words
    run = planned(world, version)
    assert "cannot be told: Sodium hydroxide" in visitor.words("runs")
    words = visitor.words("run", run.pk)
    assert "≟ cannot be told" in words
    assert "Sodium hydroxide: no amount of it is told" in words
    check = device.get(f"versions/{version.pk}/run-check/", **sent).json()
    assert check["standing"] == "not_told"
    shown = device.get(f"runs/{run.pk}/").json()
    assert shown["standing"] == "not_told"
    assert ("Sodium hydroxide", None) in [(one["name"], one["amount_g"]) for one in shown["not_kept"]]


def test_lye_that_is_not_kept_is_named_where_the_rest_is_enough(world: World, visitor: Visitor) -> None:
    device = Device(world)
    version = olive_soap(world)
    world.lot("5000", material=Material.objects.within(world.workshop).get(name="Olive oil"))
    run = planned(world, version)
    assert "not kept in the storeroom: sodium hydroxide (NaOH)" in visitor.words("runs")
    assert "sodium hydroxide (NaOH), 1" in visitor.words("run", run.pk)
    assert device.get(f"runs/{run.pk}/").json()["standing"] == "enough"
