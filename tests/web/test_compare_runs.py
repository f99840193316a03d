"""Runs side by side: each says what its own page says, and what is wrong is said beside the run it is wrong of."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from curehouse.making.models import FormulaVersion
from curehouse.making.services.formulas import write_formula
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.web.on_round import text_of
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)
    return Visitor(world)


@pytest.fixture
def plain(world: World) -> FormulaVersion:
    world.rack()
    olive, lye = world.material("Olive oil", kind="fat"), world.material("Sodium hydroxide", kind="lye")
    world.lot("1500", material=olive, unit_cost=Decimal("0.005"))
    world.lot("5000", material=lye, unit_cost=Decimal("0.006"))
    entry = formula_entry(name="Plain olive", lines=(fat("olive", "1000", material=olive), *LIQUIDS), naoh_from=lye)
    return write_formula(actor=world.actor, entry=entry, at=world.now)


@pytest.fixture
def oat(world: World) -> FormulaVersion:
    return write_formula(actor=world.actor, entry=formula_entry(name="Olive & oat"), at=world.now)


def day(world: World, days: int) -> str:
    return (world.now.date() + timedelta(days=days)).isoformat()


def test_each_says_what_its_own_page_says(world: World, visitor: Visitor, plain, oat) -> None:
    query = (
        f"?wanted_on={day(world, 70)}&0-version={plain.pk}&0-fats_g=2000&0-bars=30&0-pour_on={day(world, 5)}"
        f"&1-version={oat.pk}&1-fats_g=1000&1-bars=12&1-pour_on={day(world, 9)}&2-version="
    )
    found = visitor.get("compare_runs", query=query).context["found"]
    assert [one.name for one in found] == ["Plain olive, Sun 15 Mar", "Olive & oat, Thu 19 Mar"]
    for one in found:
        own = visitor.client.get(one.href).context["view"].in_short
        assert [(short.name, short.says) for short in one.in_short] == [(short.name, short.says) for short in own]
    assert found[0].in_short[0].mark.word == "short"


def test_the_page_of_a_run_leads_there_with_what_was_typed(world: World, visitor: Visitor, plain) -> None:
    view = visitor.get("version_run", plain.pk, query=f"?fats_g=2000&bars=30&pour_on={day(world, 5)}").context["view"]
    assert view.compare_href.startswith(reverse("web:compare_runs"))
    (one,) = visitor.client.get(view.compare_href).context["found"]
    assert one.name == "Plain olive, Sun 15 Mar"


def test_what_is_wrong_is_said_beside_its_run(world: World, visitor: Visitor, plain, oat) -> None:
    assert visitor.get("compare_runs").context["found"] == []
    gap = text_of(visitor.get("compare_runs", query=f"?0-version={plain.pk}&0-fats_g=&0-pour_on="))
    assert "The weight of the oils is missing." in gap
    assert "The day of the pour is missing." in gap
    past = visitor.get("compare_runs", query=f"?0-version={plain.pk}&0-fats_g=2000&0-pour_on=2020-01-01")
    assert "This day is past: choose today or later" in text_of(past)
    assert "This formula is not in use" in text_of(visitor.get("compare_runs", query="?0-version=999999&0-fats_g=1&0-pour_on="))
