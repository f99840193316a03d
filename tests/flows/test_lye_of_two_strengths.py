"""What a run takes of lots of two strengths is said in grams as they are weighed, never of a strength that no lot has."""

from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.flows.check_run import share_out
from curehouse.flows.stock import write_off
from curehouse.making.services.runs import plan_run
from tests.flows.test_lye_in_water import Dissolving
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("lye_in_water")]


@pytest.fixture
def bench(world: World, monkeypatch: pytest.MonkeyPatch) -> Dissolving:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)
    return Dissolving(world)


def test_a_take_is_what_is_weighed_of_that_lot(bench: Dissolving) -> None:
    world, version = bench.world, bench.soap()
    dry_g = bench.row(bench.held(version), bench.lye).likely.needed_g
    half, fifth = bench.dissolve("60", "60").lot, bench.dissolve("100", "400", is_off_confirmed=True).lot
    held = bench.held(version)
    solution, rest = (bench.row(held, one).likely for one in (bench.solution, bench.lye))
    first_day = held.found.likely.takes_on_first_day[str(bench.solution.pk)]
    day = (world.now + timedelta(days=5)).date()
    plan_run(actor=world.actor, version=version, fats_g=Decimal(1000), pour_on=day, at=world.now)
    planned = next(
        one for one in share_out(workshop=world.workshop, at=world.now).likely if one.material == str(bench.solution.pk)
    )
    shares = {f"lot {half.pk}": 0.5, f"lot {fifth.pk}": 0.2}
    for takes in (solution.takes, planned.takes, first_day):
        grams = {one.supply: one.amount for one in takes}
        # The water in front has room for 82.5 g of lye at a fifth: 60 g of the first lot, the rest of the other.
        assert grams == {f"lot {half.pk}": pytest.approx(120), f"lot {fifth.pk}": pytest.approx(112.5, abs=0.01)}
        in_it_g = sum(shares[key] * amount for key, amount in grams.items())
        assert in_it_g + rest.needed_g == pytest.approx(dry_g, abs=0.01)
    for one in (solution, planned):
        made_up_g = solution.made_up_g if one is solution else 0
        assert sum(take.amount for take in one.takes) + made_up_g == pytest.approx(one.needed_g, abs=0.01)


def test_the_pages_say_what_is_weighed(bench: Dissolving) -> None:
    world, version = bench.world, bench.soap()
    strong = bench.dissolve("150", "150").lot
    bench.dissolve("100", "400", is_off_confirmed=True)
    day = (world.now + timedelta(days=4)).date()
    check = Visitor(world).words("version_run", version.pk, query=f"?fats_g=1000&pour_on={day}")
    run = plan_run(actor=world.actor, version=version, fats_g=Decimal(1000), pour_on=day, at=world.now)
    (taken,) = next(
        one for one in share_out(workshop=world.workshop, at=world.now).likely if one.material == str(bench.solution.pk)
    ).takes
    assert taken.supply == f"lot {strong.pk}"
    # 82.5 g of lye, half of what is weighed.
    assert taken.amount == pytest.approx(165, abs=0.01)
    for page in (Visitor(world).words("run", run.pk), check):
        assert "165.0 g" in page or "165 g" in page


def test_a_lot_of_doubtful_strength_is_promised_to_no_run(bench: Dissolving) -> None:
    """As the weighing sheet refuses it: a run that counted on it would stand there without lye."""
    lot, version = bench.dissolve("200", "200").lot, bench.soap()
    assert bench.row(bench.held(version), bench.solution) is not None
    bench.say(lot, "25", value_confirmed=True)
    write_off(
        actor=bench.world.actor, lot=bench.dry, amount=Decimal(4790), reason="spilt", moment=bench.world.now, at=bench.world.now
    )
    held = bench.held(version)
    assert bench.sheet(version)[1][0].why_not
    assert bench.row(held, bench.solution) is None
    assert held.standing == "short"
