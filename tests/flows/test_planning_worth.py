"""What planning earlier is worth in a workshop: by its own pours and materials, the same on the page and in the API."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from curehouse.core.stock.reorder.earlier import AtBest, Worth
from curehouse.flows.planning_worth import PlanningWorth, planning_worth
from curehouse.flows.waiting_costs import WaitingCosts
from curehouse.making.models import Batch
from curehouse.making.services.formulas import write_formula
from curehouse.making.services.runs import plan_run, pour_run
from curehouse.workshops.models import Member
from curehouse.workshops.services import give_token
from inventory.models import Lot, Offer
from inventory.services.brought import BroughtUse, bring_uses
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.used import used
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _now(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("curehouse.web.access.timezone.now", lambda: world.now)


@pytest.fixture
def oil(world: World) -> Offer:
    """Return an offer of olive oil, of which a kilogram was used every twenty days."""
    return used(world)


def pours(world: World, many: int, *, planned_days: int = 0) -> None:
    """Let so many batches be poured, each planned so many days before."""
    version = write_formula(
        actor=world.actor, entry=formula_entry(lines=(fat("olive", "700"), fat("coconut", "300"), *LIQUIDS)), at=world.now
    )
    for number in range(many):
        ago = 20 + 5 * number
        batch = world.batch(
            formula_name=version.formula.name, version=version, cut_days_ago=ago, lye_confirmed=True, fats_g=Decimal(2000)
        )
        if planned_days:
            at = batch.poured_at - timedelta(days=planned_days)
            on = batch.poured_at.date()
            run = plan_run(actor=world.actor, version=version, fats_g=Decimal(2000), pour_on=on, at=at)
            pour_run(actor=world.actor, run=run, batch=batch, at=batch.poured_at)


def found_in(world: World) -> PlanningWorth:
    return planning_worth(workshop=world.workshop, at=world.now)


def test_where_little_is_known_it_says_what_is_missing_and_no_figure(world: World) -> None:
    world.offer()
    pours(world, 3)
    found = found_in(world)
    assert (found.worths, found.best, len(found.missing)) == ((), None, 2)
    words = Visitor(world).words("planning_earlier")
    assert (
        "What planning earlier is worth cannot be said yet. It takes 10 pours that were entered here; so far there are 3"
        in words
    )
    assert "How this was found" not in words


def test_it_is_told_by_pours_that_were_entered_here_and_not_by_what_was_brought_in(world: World, oil: Offer) -> None:
    pours(world, 12)
    assert found_in(world).pours == 12
    Batch.objects.within(world.workshop).update(is_brought_in=True)
    assert found_in(world).missing == ("10 pours that were entered here; so far there are 0",)


def test_a_workshop_that_plans_nothing_gains_and_one_that_plans_long_before_gains_less(world: World, oil: Offer) -> None:
    pours(world, 40)
    found = found_in(world)
    assert (found.pours, found.planned, found.median_days, found.materials, found.used) == (40, 0, None, 1, 1)
    assert [one.earlier_days for one in found.worths] == [7, 14, 21]
    assert found.best is not None
    assert found.best.a_year > 0
    saved = [one.a_year for one in found.worths]
    assert saved[-1] >= saved[0] > 0


def test_uses_of_no_pour_that_were_brought_in_say_nothing_of_planning(world: World, oil: Offer) -> None:
    pours(world, 12, planned_days=21)
    lot = Lot.objects.within(world.workshop).filter(material=oil.material_id).get()
    before = found_in(world).worths[0].known_now
    brought = [BroughtUse(lot, Decimal(1), world.days_ago(30), "of the old book") for _ in range(40)]
    bring_uses(actor=world.actor, uses=brought, at=world.now)
    assert found_in(world).worths[0].known_now == pytest.approx(before, abs=0.01)


def test_pours_that_were_planned_three_weeks_before_leave_less_to_gain(world: World, oil: Offer) -> None:
    pours(world, 40, planned_days=21)
    found = found_in(world)
    assert (found.planned, found.median_days) == (40, 21)
    assert found.best is not None
    assert found.best.a_year == pytest.approx(0, abs=0.5)
    assert "would save hardly anything here: less than one EUR a year" in Visitor(world).words("planning_earlier")


def test_page_and_api_say_the_same(world: World, oil: Offer) -> None:
    pours(world, 12)
    found = found_in(world)
    best = found.best
    assert best is not None
    visitor = Visitor(world)
    words = visitor.words("planning_earlier")
    assert f"would save about {best.a_year:.0f} EUR a year here" in words
    assert "By 12 pours of the last year. None of them was planned before the day." in words
    told = visitor.client.get("/api/v1/planning-earlier/").json()
    assert (told["pours"], told["planned"], told["currency"], told["missing"]) == (12, 0, "EUR", [])
    (same,) = [one for one in told["earlier"] if one["earlier_days"] == best.earlier_days]
    assert same["saves"] == pytest.approx(best.a_year, abs=0.006)
    assert same["known_then"] > same["known_now"]


def test_whoever_sees_no_costs_is_told_no_money(world: World, oil: Offer) -> None:
    pours(world, 12)
    visitor = Visitor(world)
    assert reverse("web:planning_earlier") in visitor.get("orders").content.decode()
    Member.objects.within(world.workshop).update(role="helper")
    orders = visitor.get("orders").content.decode()
    assert reverse("web:planning_earlier") not in orders
    assert "EUR a year" not in orders
    assert visitor.get("planning_earlier").status_code == 403
    assert visitor.client.get("/api/v1/planning-earlier/").status_code == 403
    _token, secret = give_token(actor=world.actor, name="Shelf tablet", reach="reads", at=world.now)
    reads = Client(headers={"Authorization": f"Bearer {secret}"})
    assert reads.get("/api/v1/planning-earlier/").status_code == 403


def test_where_planning_earlier_loses_it_says_that_hardly_anything_is_gained() -> None:
    now = AtBest(key="1", level=1000.0, lying=800.0, lying_value=8.0, late=0.1, cost=20.0, known=0.0)
    one = Worth(earlier_days=7, now=(now,), then=(replace(now, cost=52.0),))
    less = replace(one, earlier_days=14, then=(replace(now, cost=49.0),))
    usual = WaitingCosts(Decimal(15), Decimal(3), Decimal(5), said=frozenset(), batch_goods=None)
    found = PlanningWorth(
        pours=12, planned=0, median_days=None, materials=1, used=1, worths=(one, less), waiting=usual, missing=()
    )
    assert found.best == less


def test_what_cannot_be_worked_out_is_said_and_stands_in_the_log(
    world: World, oil: Offer, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def odd(*_given: object, **_more: object) -> None:
        raise FloatingPointError

    pours(world, 12)
    monkeypatch.setattr("curehouse.flows.planning_worth.worth_of_earlier", odd)
    assert "and these cannot: they are in the log" in Visitor(world).words("planning_earlier")
    assert "planning earlier not worked out" in caplog.text
