"""A lot of which a good part will still be there on its best-before: told early, with what could use it, and not twice."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from curehouse.flows.left_over import left_over
from curehouse.flows.runs import call_off_run, move_run, plan_run
from curehouse.flows.stock import rule_lot
from curehouse.flows.stock_ahead import ExpiryEvent, stock_ahead
from curehouse.flows.stock_notices import renew_stock
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.models import FormulaVersion, Run
from curehouse.making.services.formulas import retire_formula, write_formula
from curehouse.notices.models import Notice
from curehouse.notices.services import see_to
from inventory.models import Lot, Material
from inventory.services.movements import use
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def olive(world: World) -> Material:
    return world.material("Olive oil", kind="fat")


@pytest.fixture
def version(world: World, olive: Material) -> FormulaVersion:
    """A soap of 700 g of olive oil and 300 g of coconut oil to the kilogram; of coconut oil there is 5 kg."""
    coconut = world.material("Coconut oil", kind="fat")
    world.lot("5000", material=coconut)
    lines = (fat("olive", "700", material=olive), fat("coconut", "300", material=coconut), *LIQUIDS)
    return write_formula(actor=world.actor, entry=formula_entry(lines=lines), at=world.now)


def in_days(world: World, days: int) -> date:
    return world.now.date() + timedelta(days=days)


def planned(world: World, version: FormulaVersion, days: int, fats_g: int = 1000) -> Run:
    return plan_run(actor=world.actor, version=version, fats_g=Decimal(fats_g), pour_on=in_days(world, days), at=world.now)


def poured(world: World, version: FormulaVersion, lot: Lot, *, days_ago: int, fats_g: str = "2000") -> None:
    """Let a batch by the version have taken its 70 % of olive oil."""
    batch = world.batch(
        formula_name=version.formula.name, version=version, fats_g=Decimal(fats_g), cut_days_ago=days_ago, lye_confirmed=True
    )
    line = UseLine(lot, Decimal(fats_g) * Decimal("0.7"))
    moment = world.days_ago(days_ago)
    book_use(actor=world.actor, batch=batch, lines=[line], used_at=moment, at=world.now)


def morning(world: World, days: int = 0) -> None:
    renew_stock(workshop=world.workshop, at=world.days_ago(-days), tells_new=True)


def notices(world: World) -> list[Notice]:
    return list(Notice.objects.within(world.workshop).filter(kind__in=["expiring", "expired"]).order_by("pk"))


def only(world: World) -> Notice:
    (found,) = notices(world)
    return found


def test_a_good_part_that_will_be_left_is_told_long_before_with_its_amount_and_share(
    world: World, version: FormulaVersion
) -> None:
    lot = world.lot("10000", best_before=in_days(world, 60))
    planned(world, version, 10)
    morning(world)
    told = only(world)
    assert (told.title, told.mark, told.path) == (
        f"{lot} will not be used up before it expires",
        "left_over",
        f"/lots/{lot.pk}/",
    )
    first, advice = told.body.splitlines()
    assert first.startswith("10000 g left, best before ")
    assert first.endswith(" in 60 days: by planned runs and usual use about 9300 g (93\u00a0%) unused by then.")
    assert advice == "Use it up first."


def test_a_lot_that_is_put_in_quarantine_keeps_what_was_said_of_it(world: World, version: FormulaVersion) -> None:
    lot = world.lot("10000", best_before=in_days(world, 60))
    planned(world, version, 10)
    morning(world)
    said = only(world).body
    rule_lot(actor=world.actor, lot=lot, standing="quarantine", why="smells of the canister", at=world.now)
    assert (only(world).state, only(world).body) == ("open", said)
    morning(world, 1)
    assert only(world).state == "open"
    rule_lot(actor=world.actor, lot=lot, standing="rejected", why="it is rancid", at=world.days_ago(-1))
    assert only(world).state == "withdrawn"


def test_it_says_what_the_page_of_the_material_says(world: World, version: FormulaVersion, olive: Material) -> None:
    lot = world.lot("10000", best_before=in_days(world, 60), days_here=200)
    for days in range(10, 190, 20):
        use(actor=world.actor, lot=lot, amount=Decimal(300), moment=world.days_ago(days), at=world.now)
    planned(world, version, 10)
    lot.refresh_from_db()
    found = left_over(workshop=world.workshop, lots=[lot], at=world.now)[lot.pk]
    (event,) = [one for one in stock_ahead(material=olive, at=world.now).events if isinstance(one, ExpiryEvent)]
    assert found.amount == pytest.approx(event.amount, abs=0.001)
    assert 4000 < found.amount < 6600, "what is usually used besides the run is counted"
    assert found.share == pytest.approx(found.amount / float(lot.on_hand))


@pytest.mark.parametrize("fats_g", [1300, 1100])
def test_where_hardly_anything_will_be_left_nothing_is_told_early_and_in_time_that_it_will_be_used(
    world: World, version: FormulaVersion, fats_g: int
) -> None:
    world.lot("910", best_before=in_days(world, 60))
    planned(world, version, 50, fats_g)
    morning(world)
    assert notices(world) == []
    morning(world, 40)
    told = only(world)
    assert (told.mark, told.title) == ("expiring", "Olive oil, lot 2 expires soon")
    said = "it will be used up by then." if fats_g == 1300 else "all but about 140 g of it will be used by then."
    assert f"By planned runs and usual use {said}" in told.body


def test_it_is_told_once_for_a_best_before_and_not_again_when_that_is_near(world: World, version: FormulaVersion) -> None:
    lot = world.lot("10000", best_before=in_days(world, 60))
    planned(world, version, 10)
    morning(world)
    morning(world, 35)
    told = only(world)
    assert (told.title, told.mark) == (f"{lot} expires soon", "expiring")
    see_to(actor=world.actor, notice=told, at=world.days_ago(-35))
    morning(world, 40)
    assert only(world).state == "done"


def test_who_saw_to_it_early_hears_of_it_no_more_before_it_has_expired(world: World, version: FormulaVersion) -> None:
    world.lot("10000", best_before=in_days(world, 60))
    planned(world, version, 10)
    morning(world)
    see_to(actor=world.actor, notice=only(world), at=world.now)
    morning(world, 45)
    assert only(world).state == "done"
    morning(world, 61)
    assert [(one.kind, one.state) for one in notices(world)] == [("expiring", "done"), ("expired", "open")]


def test_a_planned_run_behind_its_best_before_could_take_of_it_if_it_were_poured_by_then(
    world: World, version: FormulaVersion
) -> None:
    world.lot("2000", best_before=in_days(world, 40))
    run = planned(world, version, 70)
    morning(world)
    then, day = (f"{one:%a} {one.day} {one:%b}" for one in (in_days(world, 40), run.pour_on))
    assert (
        f"{run.formula.name}, planned for {day}, could take 700 g of it if it is poured by {then} instead." in only(world).body
    )
    move_run(actor=world.actor, run=run, pour_on=in_days(world, 38), at=world.now)
    assert "could take" not in only(world).body
    assert "about 1300 g (65\u00a0%) unused" in only(world).body, "moved, it takes of it, and that is said at once"


def test_a_run_that_could_not_be_poured_by_then_is_not_named(world: World, version: FormulaVersion) -> None:
    world.lot("9000", best_before=in_days(world, 40))
    planned(world, version, 70, fats_g=20000)
    morning(world)
    assert "could take" not in only(world).body, "there is no coconut oil for it"


def test_a_version_that_was_poured_before_says_how_large_a_batch_would_use_it_up(world: World, version: FormulaVersion) -> None:
    lot = world.lot("8000", best_before=in_days(world, 60), days_here=400)
    poured(world, version, lot, days_ago=380)
    morning(world)
    lot.refresh_from_db()
    found = left_over(workshop=world.workshop, lots=[lot], at=world.now)[lot.pk]
    body = only(world).body
    batches = int(body.partition(" batches of ")[0].splitlines()[-1])
    oils = float(body.partition(" with ")[2].partition(" g of oils each")[0])
    assert f"{batches} batches of {version.formula.name} (version 1) with " in body
    assert batches * oils * 0.7 == pytest.approx(found.amount, rel=0.01), "so much they take of it"
    assert oils <= 2000, "none is larger than one that was poured"
    retire_formula(formula=version.formula, at=world.now)
    morning(world)
    assert "batches" not in only(world).body


def test_a_run_that_uses_it_ends_what_was_told_and_one_that_is_called_off_brings_it_back(
    world: World, version: FormulaVersion
) -> None:
    world.lot("2000", best_before=in_days(world, 60))
    first = planned(world, version, 10)
    morning(world)
    run = planned(world, version, 20, fats_g=1800)
    told = only(world)
    assert (told.state, told.closed_why) == (
        "withdrawn",
        "It will be used before it expires, by planned runs and usual use.",
    )
    call_off_run(actor=world.actor, run=run, why="no market", at=world.now)
    assert only(world).state == "open"
    assert first.state == Run.State.PLANNED


def test_of_a_material_that_nobody_used_or_planned_nothing_is_told_before_it_expires_soon(
    world: World, olive: Material
) -> None:
    world.lot("5000", best_before=in_days(world, 60))
    morning(world)
    assert notices(world) == []
    morning(world, 31)
    assert "usual use" not in only(world).body


def test_a_morning_asks_as_often_for_many_lots_and_runs_as_for_few(world: World, version: FormulaVersion) -> None:
    def told_already() -> int:
        morning(world)
        with CaptureQueriesContext(connection) as caught:
            morning(world)
        return len(caught)

    def add(number: int) -> None:
        butter = world.material(f"Butter {number}", kind="fat")
        lines = (fat("olive", "700", material=butter), fat("coconut", "300"), *LIQUIDS)
        one = write_formula(actor=world.actor, entry=formula_entry(lines=lines, name=f"Soap {number}"), at=world.now)
        lot = world.lot("30000", material=butter, best_before=in_days(world, 60), days_here=400)
        poured(world, one, lot, days_ago=300)
        planned(world, one, 70)

    for number in range(2):
        add(number)
    few = told_already()
    for number in range(2, 12):
        add(number)
    assert told_already() == few
    assert len(notices(world)) == 12
