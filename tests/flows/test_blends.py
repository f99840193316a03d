"""Materials that are made from others: their recipes, what a run takes of them, what is made, and the way from lot to bar."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from curehouse.common.errors import Conflict, DomainError, Forbidden, Invalid
from curehouse.core.stock.supplied import Taken
from curehouse.flows.blends import make_blend, write_blend
from curehouse.flows.check_run import Held, hold_run, share_out
from curehouse.flows.reorder_room import read_room
from curehouse.flows.stock import correct_lot, record_value, reverse, rule_lot
from curehouse.flows.stock_ahead import stock_ahead
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.models import Batch, BatchHold, FormulaVersion, Reservation
from curehouse.making.services.formulas import write_formula
from curehouse.making.services.runs import plan_run
from curehouse.making.tracing import uses_through
from curehouse.workshops.actors import Actor
from curehouse.workshops.services import give_token
from inventory.balance import differences
from inventory.blends import lots_with
from inventory.models import Blend, Lot, Making, Material, Movement
from inventory.services.blends import BlendEntry, MakingEntry, PartEntry, TakeEntry
from inventory.services.lots import LotPapers
from tests.flows.test_superfats import House, lot
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db


class Bench:
    """A soap of lye and water, beside a fragrance mix that is made here, and lye that may be dissolved."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.lye, self.lavender, self.cedar = (
            world.material(name, kind=kind)
            for name, kind in (("Sodium hydroxide", "lye"), ("Lavender oil", "fragrance"), ("Cedar oil", "fragrance"))
        )
        self.solution = world.material("Lye solution", kind="lye")
        self.mix = world.material("Meadow mix", kind="fragrance")
        self.recipe(self.mix, (3, self.lavender), (1, self.cedar))
        self.olive = world.material("Olive oil", kind="fat")
        world.lot("50000", material=self.olive)

    def recipe(self, material: Material, *parts: tuple[int, Any], **more: Any) -> Blend:
        entries = [
            PartEntry(Decimal(share), name=of) if isinstance(of, str) else PartEntry(Decimal(share), of) for share, of in parts
        ]
        entry = BlendEntry(entries, **more)
        return write_blend(actor=self.world.actor, material=material, entry=entry, at=self.world.now)

    def version(self, **changes: Any) -> FormulaVersion:
        lines = (fat("olive", "1000", material=self.olive), *LIQUIDS)
        entry = formula_entry(lines=lines, naoh_from=self.lye, **changes)
        return write_formula(actor=self.world.actor, entry=entry, at=self.world.now)

    def make(self, material: Material, made: str, *takes: tuple[Any, str], actor: Actor | None = None, **more: Any) -> Making:
        entries = [
            TakeEntry(Decimal(grams), name=of) if isinstance(of, str) else TakeEntry(Decimal(grams), of) for of, grams in takes
        ]
        entry = MakingEntry(Decimal(made), entries, self.world.now, **{"standing": "released", **more})
        return make_blend(actor=actor or self.world.actor, material=material, entry=entry, at=self.world.now)

    def held(self, version: FormulaVersion, days: int = 5) -> Held:
        day = (self.world.now + timedelta(days=days)).date()
        return hold_run(version=version, fats_g=Decimal(1000), pour_on=day, at=self.world.now)

    def row(self, held: Held, material: Material) -> Any:
        return next((one for one in held.found.materials if one.material == str(material.pk)), None)


@pytest.fixture
def bench(world: World) -> Bench:
    return Bench(world)


@pytest.fixture
def lye_bench(bench: Bench) -> Bench:
    """Return the bench where lye is dissolved beforehand, as much of it as water."""
    bench.recipe(bench.solution, (1, bench.lye), (1, "water"), keeps_days=60)
    return bench


def test_a_run_takes_lye_dissolved_beforehand_first_and_all_of_it(lye_bench: Bench) -> None:
    bench = lye_bench
    lye = bench.world.lot("1000", material=bench.lye)
    version = bench.version()
    dry = bench.row(bench.held(version), bench.lye).likely.needed_g
    made = bench.make(bench.solution, "400", (lye, "200"), ("water", "200"))
    held = bench.held(version)
    solution = bench.row(held, bench.solution)
    # Of lye without a certificate, counted as pure, twice as much as it is dry.
    assert solution.likely.needed_g == pytest.approx(2 * dry, abs=0.01)
    assert solution.likely.takes == (Taken(f"lot {made.lot.pk}", pytest.approx(2 * dry, abs=0.01)),)
    assert solution.instead.material == str(bench.lye.pk)
    assert bench.row(held, bench.lye) is None
    assert {row.material for row in held.found.materials} <= {
        str(key) for key in Material.objects.within(bench.world.workshop).values_list("pk", flat=True)
    }
    assert held.standing == "enough"


def test_without_a_lot_of_it_a_run_takes_lye_as_ever(lye_bench: Bench) -> None:
    bench = lye_bench
    bench.world.lot("1000", material=bench.lye)
    held = bench.held(bench.version())
    assert bench.row(held, bench.solution) is None
    assert bench.row(held, bench.lye).likely.short_g == 0


def test_planned_runs_keep_the_solution_and_its_lye_for_each_other(lye_bench: Bench) -> None:
    bench = lye_bench
    lye = bench.world.lot("300", material=bench.lye)
    version, world = bench.version(), bench.world
    dry = bench.row(bench.held(version), bench.lye).likely.needed_g
    made = bench.make(bench.solution, "300", (lye, "150"), ("water", "150"))
    runs = []
    for days in (9, 7):
        day = (world.now + timedelta(days=days)).date()
        runs.append(plan_run(actor=world.actor, version=version, fats_g=Decimal(1000), pour_on=day, at=world.now))
    names = {
        row.material.name for row in Reservation.objects.within(world.workshop).filter(run=runs[0]).select_related("material")
    }
    assert names == {"Sodium hydroxide", "Olive oil"}, "what is reserved is the dry lye, however it comes"
    shares = share_out(workshop=world.workshop, at=world.now)
    assert not any(shares.short_of(run) for run in runs)
    # The first run has what is dissolved, the second what is left dry: the next is short of dry lye, not of the solution.
    held = bench.held(version)
    assert bench.row(held, bench.lye).likely.short_g > 0
    for material, needed in ((bench.lye, dry), (bench.solution, 2 * dry)):
        ahead = stock_ahead(material=material, at=world.now)
        assert [event.needed for event in ahead.events if hasattr(event, "run")] == [pytest.approx(needed, abs=0.01)]
    planned = {one.key: one.planned for one in read_room(workshop=world.workshop, at=world.now).kept}
    assert [one.quantity for one in planned[str(bench.lye.pk)]] == [pytest.approx(dry, abs=0.01)]
    assert made.lot.on_hand == 300


def test_what_is_made_leaves_its_lots_and_comes_in_as_one_of_its_own(bench: Bench) -> None:
    lavender = bench.world.lot("400", material=bench.lavender, best_before=(bench.world.now + timedelta(days=200)).date())
    cedar = bench.world.lot("100", material=bench.cedar, best_before=(bench.world.now + timedelta(days=90)).date())
    made = bench.make(bench.mix, "395", (lavender, "300"), (cedar, "100"))
    kept = {lot.pk: lot for lot in Lot.objects.within(bench.world.workshop)}
    assert (kept[lavender.pk].on_hand, kept[cedar.pk].on_hand, kept[made.lot.pk].on_hand) == (100, 0, 395)
    assert made.lot.best_before == cedar.best_before, "no longer than what is in it"
    assert kept[made.lot.pk].unit_cost == pytest.approx(Decimal("0.0075") * 400 / 395, abs=Decimal("0.000001"))
    assert str(made.blend) == "Meadow mix, recipe 1"
    bench.recipe(bench.mix, (1, bench.lavender), (1, bench.cedar))
    made.refresh_from_db()
    assert [part.parts for part in made.blend.parts.all()] == [3, 1], "a lot says by which parts it was made"
    assert differences() == []


def poured(bench: Bench, *lines: tuple[Lot, str]) -> Batch:
    batch = bench.world.batch()
    book_use(
        actor=bench.world.actor, batch=batch, used_at=bench.world.now, at=bench.world.now,
        lines=[UseLine(lot, Decimal(grams), "as it was") for lot, grams in lines],
    )  # fmt: skip
    batch.refresh_from_db()
    return batch


def test_any_lot_leads_to_any_bar_through_blends_within_blends(bench: Bench) -> None:
    world = bench.world
    base = world.material("Base mix", kind="fragrance")
    bench.recipe(base, (1, bench.mix), (1, bench.cedar))
    lavender, cedar = world.lot("400", material=bench.lavender), world.lot("400", material=bench.cedar)
    mix = bench.make(bench.mix, "200", (lavender, "150"), (cedar, "50")).lot
    top = bench.make(base, "100", (mix, "50"), (cedar, "50")).lot
    batch = poured(bench, (top, "30"))
    assert lots_with(world.workshop, lavender) == [mix, top]
    assert {use.batch_id for use in uses_through(world.workshop, lavender)} == {batch.pk}
    rule_lot(actor=world.actor, lot=lavender, standing="rejected", why="mislabelled", at=world.now)
    (hold,) = BatchHold.objects.within(world.workshop).filter(batch=batch)
    assert "Lavender oil" in hold.cause


def test_a_best_before_that_was_over_when_a_blend_was_made_holds_what_it_went_into(bench: Bench) -> None:
    world = bench.world
    lavender, cedar = world.lot("400", material=bench.lavender), world.lot("400", material=bench.cedar)
    batch = poured(bench, (bench.make(bench.mix, "200", (lavender, "150"), (cedar, "50")).lot, "30"))
    for days, holds in ((3, 0), (-2, 1)):
        papers = LotPapers("", (world.now + timedelta(days=days)).date(), None)
        correct_lot(actor=world.actor, lot=lavender, papers=papers, why="misread", at=world.now)
        assert BatchHold.objects.within(world.workshop).filter(batch=batch).count() == holds


def test_a_batch_is_reckoned_by_the_lye_that_was_dissolved_and_anew_when_that_is_taken_back(world: World) -> None:
    house = House(world)
    plain, dissolved = house.pour(), house.pour()
    pure = lot(world, house.lye, ("Purity", "99.5"))
    solution = world.material("Ready lye", kind="lye")
    parts = [PartEntry(Decimal(1), house.lye), PartEntry(Decimal(1), name="water")]
    write_blend(actor=world.actor, material=solution, entry=BlendEntry(parts), at=world.now)
    takes = [TakeEntry(Decimal(250), pure), TakeEntry(Decimal(250), name="water")]
    entry = MakingEntry(Decimal(500), takes, world.now, standing="released")
    made = make_blend(actor=world.actor, material=solution, entry=entry, at=world.now)
    # Half of 301 g is lye.
    for batch, row, grams in ((plain, pure, "150.5"), (dissolved, made.lot, "301")):
        line = UseLine(row, Decimal(grams), "as it was")
        book_use(actor=world.actor, batch=batch, used_at=world.now, at=world.now, lines=[line])
        batch.refresh_from_db()
    assert dissolved.superfat_by_lots
    assert dissolved.needs_check
    assert dissolved.superfat_middle == plain.superfat_middle
    # What the scale may have been off as it was dissolved comes on top.
    assert dissolved.superfat_low < plain.superfat_low < plain.superfat_high < dissolved.superfat_high
    assert plain.superfat_middle < 0
    # That its lye has another certificate reaches the batch through the solution.
    record_value(actor=world.actor, lot=pure, name="Purity", value=Decimal(90), unit="%", at=world.now, value_confirmed=True)
    dissolved.refresh_from_db()
    assert dissolved.superfat_middle > 0


def test_a_device_may_make_what_holds_lye_only_to_wait_in_quarantine(lye_bench: Bench) -> None:
    bench = lye_bench
    world = bench.world
    lye, lavender, cedar = (world.lot("400", material=one) for one in (bench.lye, bench.lavender, bench.cedar))
    device = Actor(workshop=world.workshop, device=give_token(actor=world.actor, name="Scale", reach="works", at=world.now)[0])
    with pytest.raises(Forbidden):
        bench.make(bench.solution, "100", (lye, "50"), ("water", "50"), actor=device)
    assert (
        bench.make(bench.solution, "100", (lye, "50"), ("water", "50"), actor=device, standing="quarantine").lot.standing
        == "quarantine"
    )
    assert bench.make(bench.mix, "40", (lavender, "30"), (cedar, "10"), actor=device).lot.standing == "released"


def test_made_from_a_lot_that_is_not_in_order_it_waits_in_quarantine(bench: Bench) -> None:
    lavender, cedar = (
        bench.world.lot("400", material=bench.lavender, standing="quarantine"),
        bench.world.lot("400", material=bench.cedar),
    )
    takes = [TakeEntry(Decimal(30), lavender, reason="its papers are on their way"), TakeEntry(Decimal(10), cedar)]
    entry = MakingEntry(Decimal(40), takes, bench.world.now, standing="released")
    made = make_blend(actor=bench.world.actor, material=bench.mix, entry=entry, at=bench.world.now)
    assert made.lot.standing == "quarantine"


def test_what_cannot_be_so_is_refused_with_what_to_do(bench: Bench) -> None:
    world = bench.world
    lye, lavender, cedar = (world.lot("400", material=one) for one in (bench.lye, bench.lavender, bench.cedar))
    refused: list[tuple[type[DomainError], str, Any]] = [
        (Invalid, "more_than_went_in", lambda: bench.make(bench.mix, "41", (lavender, "30"), (cedar, "10"))),
        (Invalid, "part_missing", lambda: bench.make(bench.mix, "30", (lavender, "30"))),
        (Invalid, "no_part", lambda: bench.make(bench.mix, "40", (lavender, "30"), (cedar, "10"), (lye, "1"))),
        (Conflict, "no_recipe", lambda: bench.make(bench.cedar, "40", (lavender, "40"))),
        (Conflict, "of_itself", lambda: bench.recipe(bench.cedar, (1, bench.mix))),
        (Invalid, "of_itself", lambda: bench.recipe(bench.cedar, (1, bench.cedar))),
        (Invalid, "part_twice", lambda: bench.recipe(bench.cedar, (1, bench.lavender), (2, "lavender oil"))),
        (Invalid, "no_parts", lambda: bench.recipe(bench.cedar)),
        (Invalid, "yield", lambda: bench.recipe(bench.cedar, (1, bench.lavender), yielded=Decimal("1.1"))),
    ]
    before = Movement.objects.within(world.workshop).count()
    for kind, code, verb in refused:
        with pytest.raises(kind) as refusal:
            verb()
        assert refusal.value.code == code
    assert Movement.objects.within(world.workshop).count() == before


def test_no_formula_weighs_out_as_lye_what_is_lye_and_water(lye_bench: Bench) -> None:
    bench = lye_bench
    with pytest.raises(Invalid) as refusal:
        lines = (fat("olive", "1000", material=bench.olive), *LIQUIDS)
        write_formula(actor=bench.world.actor, entry=formula_entry(lines=lines, naoh_from=bench.solution), at=bench.world.now)
    assert refusal.value.code == "made_lye"
    bench.version()
    write_blend(actor=bench.world.actor, material=bench.solution, entry=BlendEntry(), at=bench.world.now)
    soda = bench.world.material("Caustic soda", kind="lye")
    with pytest.raises(Conflict) as conflict:
        bench.recipe(bench.lye, (1, soda), (1, "water"))
    assert conflict.value.code == "in_formula"


def test_a_receipt_of_it_taken_back_leaves_nothing_behind(bench: Bench) -> None:
    world = bench.world
    lavender, cedar = world.lot("400", material=bench.lavender), world.lot("400", material=bench.cedar)
    made = bench.make(bench.mix, "40", (lavender, "30"), (cedar, "10"))
    for row in (made.lot.movements.get(), *(take.movement for take in made.takes.all())):
        reverse(actor=world.actor, movement=row, reason="never made", at=world.now)
    kept = {lot.pk: lot.on_hand for lot in Lot.objects.within(world.workshop)}
    assert (kept[lavender.pk], kept[cedar.pk], kept[made.lot.pk]) == (400, 400, 0)
    assert lots_with(world.workshop, lavender) == []
