"""What a run takes of lots of two strengths is said in grams as they are weighed, never of a strength that no lot has."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from curehouse.common.units import show_at_least
from curehouse.flows.check_run import share_out
from curehouse.flows.stock import write_off
from curehouse.making.services.runs import plan_run
from tests.flows.test_lye_in_water import Dissolving
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(world: World, monkeypatch: pytest.MonkeyPatch) -> Dissolving:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)
    return Dissolving(world)


def test_a_take_is_what_is_weighed_of_that_lot(bench: Dissolving) -> None:
    world, version = bench.world, bench.soap()
    dry_g = bench.row(bench.held(version), bench.lye).likely.needed_g
    half, less = bench.dissolve("150", "150").lot, bench.dissolve("490", "510").lot
    day = (world.now + timedelta(days=5)).date()
    for lot, share in ((half, 0.5), (less, 0.49)):
        held = bench.held(version)
        solution = bench.row(held, bench.solution)
        first_day = held.found.likely.takes_on_first_day[str(bench.solution.pk)]
        run = plan_run(actor=world.actor, version=version, fats_g=Decimal(1000), pour_on=day, at=world.now)
        shares = share_out(workshop=world.workshop, at=world.now)
        planned = next(one for one in shares.likely if one.run == f"run {run.pk}" and one.material == str(bench.solution.pk))
        whole_g = pytest.approx(dry_g / (share * 0.985), abs=0.01)
        for takes in (solution.likely.takes, planned.takes, first_day):
            assert [(one.supply, one.amount) for one in takes] == [(f"lot {lot.pk}", whole_g)]
        assert solution.likely.needed_g == planned.needed_g == whole_g
        assert solution.likely.here_g == solution.likely.free_g == float(lot.on_hand), "of that lot, as it stands on the scale"
        assert solution.instead == planned.instead
        assert planned.instead.amount_g == pytest.approx(dry_g)


def test_the_pages_name_the_lot_and_leave_what_is_weighed_of_it_to_the_sheet(bench: Dissolving) -> None:
    world, version = bench.world, bench.soap()
    dry_g = bench.row(bench.held(version), bench.lye).likely.needed_g
    lot = bench.dissolve("490", "510").lot
    bench.dissolve()
    day = (world.now + timedelta(days=4)).date()
    check = " ".join(Visitor(world).words("version_run", version.pk, query=f"?fats_g=1000&pour_on={day}").split())
    run = plan_run(actor=world.actor, version=version, fats_g=Decimal(1000), pour_on=day, at=world.now)
    page = " ".join(Visitor(world).words("run", run.pk).split())
    # What is kept of it is a little more than its sheet weighs: weighed, it would be more alkali than the superfat lets pass.
    most, in_it, dry = (show_at_least(grams, "g") for grams in (dry_g / (0.49 * 0.985), dry_g / 0.985, dry_g))
    for shown in (page, check):
        assert f"enough of lot {lot.number}, in place of all the {dry} of Sodium hydroxide" in shown
        assert "the weighing sheet says, and nothing else" in shown
        assert most not in shown
        assert in_it not in shown
    sheet = reverse("web:version_scale", args=[version.pk])
    assert f"{sheet}?by=fats&amp;fats_g=1000" in Visitor(world).get("run", run.pk).content.decode()
    assert "of that lot 1000 g here: 1000 g free" in check, "the other lot is not counted with it"


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
