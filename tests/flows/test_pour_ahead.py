"""A pour that is still to come: what is expected of it, from what was learnt and from the formula's own cures."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from curehouse.common.errors import Invalid
from curehouse.core.planning.pour_day import SHARES
from curehouse.flows.foretell import learn_and_foretell
from curehouse.flows.pour_ahead import PourAhead, pour_ahead
from curehouse.flows.take_out import take_out
from curehouse.making.models import Batch, FormulaVersion
from curehouse.making.services import TakeOutEntry
from curehouse.making.services.formulas import judged, write_formula
from curehouse.workshops.services import change_preferences
from tests.formulas import formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db

# A bar that loses about as it dries by itself, slowly: weighed each week.
LINGERING = {day: f"{130 * (0.87 + 0.13 * 0.84 ** (day / 7)):.1f}" for day in range(0, 64, 7)}
# A bar that is within 0.75 % a week from day 29 on, and one that takes until day 43.
QUICK = {0: "130.0", 15: "121.4", 22: "120.4", 29: "119.8", 36: "119.5"}
SLOW = {0: "130.0", 22: "123.4", 29: "121.6", 36: "120.3", 43: "119.6", 50: "119.4"}


@pytest.fixture
def version(world: World) -> FormulaVersion:
    return write_formula(actor=world.actor, entry=formula_entry(name="Olive & oat"), at=world.now)


def in_days(world: World, days: int) -> date:
    return world.now.date() + timedelta(days=days)


def asked(world: World, version: FormulaVersion, **days: int) -> PourAhead:
    return pour_ahead(version=version, at=world.now, **{name: in_days(world, day) for name, day in days.items()})


def cured(world: World, cut_days_ago: int, weights: dict[int, str], name: str = "Olive & oat") -> Batch:
    batch = world.batch(cut_days_ago=cut_days_ago, formula_name=name)
    world.weigh_series(batch, weights)
    return batch


def test_before_anything_was_learnt_it_is_what_is_usual_of_such_bars(world: World, version: FormulaVersion) -> None:
    found = asked(world, version, pour_on=5)
    assert (found.cures, found.cut_after_days, found.own.took) == (0, 1, ())
    days = [found.dry_on(share, pour_on=in_days(world, 5)) for share in SHARES]
    assert days == sorted(days)
    # Not before the least age, counted from the cut.
    assert days[0] >= in_days(world, 5 + 1 + world.workshop.min_days)
    assert 0.1 < found.water_share < 0.3


def test_pouring_by_the_day_that_is_told_makes_it_as_likely_as_was_asked(world: World, version: FormulaVersion) -> None:
    found = asked(world, version, wanted_on=120)
    for one in found.latest(in_days(world, 120)):
        day = date.fromordinal(one.pour_on)
        assert found.chance(pour_on=day, wanted_on=in_days(world, 120)) >= one.share
        assert found.chance(pour_on=day + timedelta(days=1), wanted_on=in_days(world, 120)) < one.share


def test_what_the_workshop_learnt_moves_it(world: World, version: FormulaVersion) -> None:
    before = asked(world, version, pour_on=5).ready
    for days in range(70, 105, 7):
        batch = cured(world, days, LINGERING)
        gone = TakeOutEntry(batch.bars_left, "gift", world.now, "a neighbour asked")
        take_out(actor=world.actor, batch=batch, entry=gone, at=world.now)
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    found = asked(world, version, pour_on=5)
    assert found.cures == 5
    assert found.ready.day_of(0.5) > before.day_of(0.5)


def test_own_cures_that_had_their_time_say_what_the_next_takes_by_themselves(world: World, version: FormulaVersion) -> None:
    for days, weights in ((70, QUICK), (80, SLOW), (90, QUICK), (100, SLOW)):
        cured(world, days, weights)
    # One that began lately is known only if it was quick, so it says nothing; neither does another formula's.
    cured(world, 40, QUICK)
    cured(world, 75, SLOW, name="Salt bar")
    own = asked(world, version, pour_on=5).own
    assert len(own.took) == 4
    assert min(own.took) in range(28, 31)
    assert max(own.took) in range(40, 45)
    assert own.next.count == 4
    assert own.next.days_for(0.95) > max(own.took)


def test_where_a_cure_never_became_dry_they_foretell_nothing(world: World, version: FormulaVersion) -> None:
    for days in (70, 80, 90):
        cured(world, days, QUICK)
    cured(world, 75, {0: "130.0", 28: "124.0", 35: "122.6", 42: "121.2", 49: "119.9", 56: "118.6"})
    own = asked(world, version, pour_on=5).own
    assert (len(own.took), own.never, own.next) == (3, 1, None)


def test_the_formulas_own_least_age_counts(world: World) -> None:
    slow = write_formula(actor=world.actor, entry=formula_entry(name="Long cure", min_days=70), at=world.now)
    assert asked(world, slow, pour_on=5).ready.days[0] >= 70
    change_preferences(workshop=world.workshop, changes={"min_days": 42})
    usual = write_formula(actor=world.actor, entry=formula_entry(name="By the house"), at=world.now)
    assert asked(world, usual, pour_on=5).ready.days[0] >= 42


@pytest.mark.parametrize("min_days", [110, 126, 180, 365, 730])
def test_a_least_age_of_months_is_looked_beyond(world: World, min_days: int) -> None:
    entry = formula_entry(name="Castile, for the patient", min_days=min_days)
    found = asked(world, write_formula(actor=world.actor, entry=entry, at=world.now), pour_on=5)
    day = found.dry_on(0.95, pour_on=in_days(world, 5))
    assert day is not None
    assert min_days <= (day - in_days(world, 6)).days < min_days + 70


@pytest.mark.parametrize(
    ("days", "field"),
    [
        ({}, "pour_on"),
        ({"pour_on": -1}, "pour_on"),
        ({"wanted_on": 900}, "wanted_on"),
        ({"pour_on": 9, "wanted_on": 8}, "wanted_on"),
    ],
)
def test_days_that_cannot_be_are_answered_in_words(
    world: World, version: FormulaVersion, days: dict[str, int], field: str
) -> None:
    with pytest.raises(Invalid) as caught:
        asked(world, version, **days)
    assert caught.value.field == field


def test_it_costs_as_many_queries_beside_many_cures_as_beside_few(world: World, version: FormulaVersion) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            asked(world, version, pour_on=5, wanted_on=60)
        return len(caught)

    cured(world, 70, QUICK)
    beside_one = queries()
    for days in range(71, 79):
        cured(world, days, QUICK)
    assert queries() == beside_one <= 11


def test_where_its_water_cannot_be_told_it_says_what_to_do(
    world: World, version: FormulaVersion, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("curehouse.flows.pour_ahead.judged", lambda one: replace(judged(one), figures=None))
    with pytest.raises(Invalid, match="see the formula's page"):
        asked(world, version, pour_on=5)
