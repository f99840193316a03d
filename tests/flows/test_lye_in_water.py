"""Lye that is dissolved beforehand: what may be, what a run and a weighing sheet take of it, and how a batch is reckoned."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from curehouse.common.errors import Conflict, DomainError, Invalid
from curehouse.core.chemistry.alkali import NAOH_G_PER_MOL
from curehouse.core.stock.stand_ins import Instead
from curehouse.core.stock.supplied import Taken
from curehouse.flows.blends import write_blend
from curehouse.flows.check_run import share_out
from curehouse.flows.enter_batch import RackEntry, enter_batch
from curehouse.flows.stock import count, edit_material, record_value, reverse
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.formulas.in_place import InPlace, in_place_of_lye
from curehouse.making.formulas.reading import kept
from curehouse.making.formulas.sizes import as_weighed
from curehouse.making.models import Batch, FormulaVersion, Reservation, Run
from curehouse.making.services import BatchEntry, LiquidEntry
from curehouse.making.services.formulas import judged, plan, write_formula
from curehouse.making.services.runs import plan_run
from inventory.models import Lot, Making
from inventory.services.blends import BlendEntry
from inventory.services.things import MaterialEntry
from tests.flows.test_blends import Bench
from tests.formulas import fat, formula_entry, liquid
from tests.world import World

pytestmark = pytest.mark.django_db


class Dissolving(Bench):
    """Dry lye of a certificate, and as much of it dissolved in as much water."""

    def __init__(self, world: World) -> None:
        super().__init__(world)
        self.dry = world.lot("5000", material=self.lye)
        record_value(actor=world.actor, lot=self.dry, name="Purity", value=Decimal("98.5"), unit="%", at=world.now)
        self.recipe(self.solution, (1, self.lye), (1, "water"), keeps_days=60)

    def dissolve(self, lye: str = "500", water: str = "500", made: str | None = None, **more: Any) -> Making:
        whole = made or str(Decimal(lye) + Decimal(water))
        return self.make(self.solution, whole, (self.dry, lye), ("water", water), **more)

    def soap(self, *liquids: Any, name: str = "Plain", superfat: str = "0.05", **more: Any) -> FormulaVersion:
        lines = (fat("olive", "1000", material=self.olive), *(liquids or (liquid("water", "330"),)))
        entry = formula_entry(
            name=name, lines=lines, naoh_from=self.lye, superfat=Decimal(superfat), liquid=Decimal(330), **more
        )
        return write_formula(actor=self.world.actor, entry=entry, at=self.world.now)

    def sheet(self, version: FormulaVersion) -> tuple[Any, list[InPlace]]:
        one = as_weighed(plan(workshop=self.world.workshop, entry=kept(version).entry, at=self.world.now))
        found = judged(one).figures
        return found, in_place_of_lye(self.world.workshop, one, found.lye, on=self.world.now.date())

    def poured(self, version: FormulaVersion, lye_g: float) -> Batch:
        entry = BatchEntry(
            formula_name="", version=version, poured_at=self.world.now, cut_at=None, bars=10, fats_g=Decimal(1000),
            lye_g=Decimal(str(round(lye_g, 1))), liquids=(LiquidEntry("water", Decimal(330)),),
        )  # fmt: skip
        return enter_batch(actor=self.world.actor, entry=entry, rack=RackEntry(), at=self.world.now)

    def book(self, batch: Batch, lot: Lot, grams: float) -> Batch:
        line = UseLine(lot, Decimal(str(round(grams, 1))), "as it was")
        book_use(actor=self.world.actor, batch=batch, used_at=self.world.now, at=self.world.now, lines=[line])
        batch.refresh_from_db()
        return batch

    def say(self, lot: Lot, percent: str, **more: Any) -> None:
        record_value(
            actor=self.world.actor, lot=lot, name="Purity", value=Decimal(percent), unit="%", at=self.world.now, **more
        )


@pytest.fixture
def bench(world: World) -> Dissolving:
    return Dissolving(world)


def refused(code: str, verb: Any, kind: type[DomainError] = Conflict) -> str:
    with pytest.raises(kind) as refusal:
        verb()
    assert refusal.value.code == code
    return refusal.value.message


# What may be written down


def test_lye_is_made_of_one_dry_lye_and_water_and_of_nothing_else(bench: Dissolving) -> None:
    world = bench.world
    koh, strange = world.material("Potassium hydroxide", kind="lye"), world.material("Lye of the trade", kind="lye")
    other, strong = world.material("Another solution", kind="lye"), world.material("KOH solution", kind="lye")
    for code, made, parts in (
        ("not_lye_in_water", other, ((1, bench.lye), (1, koh), (2, "water"))),
        ("not_lye_in_water", other, ((1, bench.lye), (1, bench.lavender), (2, "water"))),
        ("not_lye_in_water", other, ((1, "water"), (1, "spirit"))),
        ("lye_of_lye", other, ((1, bench.solution), (1, "water"))),
        ("not_water", other, ((1, bench.lye), (1, "goat's milk"))),
        ("which_lye", other, ((1, strange), (1, "water"))),
        ("other_lye", strong, ((1, bench.lye), (1, "water"))),
        ("lye_part", bench.mix, ((1, bench.lye), (1, "water"))),
        ("lye_part", bench.mix, ((1, bench.solution), (1, bench.cedar))),
        ("lye_part", bench.mix, ((1, bench.cedar), (1, "caustic soda"))),
    ):
        refused(code, lambda made=made, parts=parts: bench.recipe(made, *parts))
    said = refused("over_solubility", lambda: bench.recipe(other, (101, bench.lye), (100, "water")))
    assert "100 g of water" in said
    # Of potassium hydroxide 112 g stay in 100 g of water, and water may dry out of that unseen.
    said = refused("may_dry", lambda: bench.recipe(strong, (112, koh), (100, "distilled water")))
    assert "Potassium hydroxide is not dissolved beforehand" in said
    refused("over_solubility", lambda: bench.recipe(strong, (113, koh), (100, "water")))
    refused("lye_came_in", lambda: bench.recipe(bench.lye, (1, koh), (1, "water")))


def test_what_dries_out_as_it_is_made_counts_as_its_water(bench: Dissolving) -> None:
    other = bench.world.material("Another solution", kind="lye")
    refused("over_solubility", lambda: bench.recipe(other, (1, bench.lye), (1, "water"), yielded=Decimal("0.9")))


def test_lye_is_dissolved_so_strong_that_it_does_not_dry_unseen(bench: Dissolving) -> None:
    """A use told too high, and as much water dried out since, hide each other: no count ever finds anything missing."""
    other = bench.world.material("Another solution", kind="lye")
    said = refused("may_dry", lambda: bench.recipe(other, (1, bench.lye), (2, "water")))
    assert "49 g of Sodium hydroxide at least" in said
    refused("may_dry", lambda: bench.recipe(other, (Decimal("48.9"), bench.lye), (Decimal("51.1"), "water")))
    bench.recipe(other, (49, bench.lye), (51, "water"))


def test_a_part_and_a_solution_stay_lye(bench: Dissolving) -> None:
    for row in (bench.lye, bench.solution):
        entry = MaterialEntry(row.name, "additive")
        refused("mixed_kind", lambda row=row, entry=entry: edit_material(material=row, entry=entry, at=bench.world.now))


def test_no_formula_names_a_solution_not_even_once_its_recipe_has_ended(bench: Dissolving) -> None:
    bench.dissolve()
    write_blend(actor=bench.world.actor, material=bench.solution, entry=BlendEntry(), at=bench.world.now)
    lines = (fat("olive", "1000", material=bench.olive), liquid("water", "330"))
    entry = formula_entry(lines=lines, naoh_from=bench.solution, liquid=Decimal(330))
    refused("made_lye", lambda: write_formula(actor=bench.world.actor, entry=entry, at=bench.world.now), Invalid)


# What is made


def test_lye_that_is_not_as_strong_as_its_recipe_is_asked_about(bench: Dissolving) -> None:
    said = refused("other_strength", lambda: bench.dissolve("450", "550"))
    assert "45.0 g of lye, and by its recipe 50.0 g" in said
    refused("other_strength", lambda: bench.dissolve(made="950"))
    assert not Lot.objects.within(bench.world.workshop).filter(material=bench.solution).exists()
    assert bench.dissolve("450", "550", is_off_confirmed=True).lot.standing == "released"
    assert bench.dissolve("495", "500", "995").lot.standing == "released", "weighing is that far off"


def test_what_did_not_dissolve_waits_in_quarantine(bench: Dissolving) -> None:
    made = bench.dissolve("520", "480", is_off_confirmed=True)
    assert made.lot.standing == "quarantine"
    assert "at the bottom" in made.lot.rulings.get().why
    # A few grams that steam off as it is made are no such thing.
    assert bench.dissolve("500", "500", "996").lot.standing == "released"


# What a run takes


def test_a_run_goes_by_what_is_in_a_lot_and_not_by_its_recipe_today(bench: Dissolving) -> None:
    version = bench.soap()
    dry_g = bench.row(bench.held(version), bench.lye).likely.needed_g
    lot = bench.dissolve("490", "510").lot
    day = (bench.world.now + timedelta(days=4)).date()
    plan_run(actor=bench.world.actor, version=version, fats_g=Decimal(1000), pour_on=day, at=bench.world.now)
    for parts in ((100, 100), (98, 102)):
        bench.recipe(bench.solution, (parts[0], bench.lye), (parts[1], "water"))
        shares = share_out(workshop=bench.world.workshop, at=bench.world.now)
        (row,) = (one for one in shares.likely if one.material in (str(bench.solution.pk), str(bench.lye.pk)))
        # 49 g of lye of 98.5 % in 100 g, whatever is written today; a gram of dry lye counts as pure.
        assert row.takes == (Taken(f"lot {lot.pk}", pytest.approx(dry_g / (0.49 * 0.985), abs=0.01)),)
        assert row.instead == Instead(str(bench.lye.pk), pytest.approx(dry_g))


def test_a_run_takes_all_of_its_lye_of_one_lot_or_none(bench: Dissolving) -> None:
    version = bench.soap()
    dry_g = bench.row(bench.held(version), bench.lye).likely.needed_g
    # Together they would be enough, and no sheet takes two of them.
    for _lot in range(3):
        bench.dissolve("60", "60")
    held = bench.held(version)
    assert bench.row(held, bench.solution) is None
    assert bench.row(held, bench.lye).likely.needed_g == pytest.approx(dry_g)
    lot = bench.dissolve("150", "150").lot
    held = bench.held(version)
    assert bench.row(held, bench.lye) is None
    row = bench.row(held, bench.solution).likely
    assert [one.supply for one in row.takes] == [f"lot {lot.pk}"]
    assert (row.here_g, row.free_g) == (300, 300), "of that lot alone"


def test_what_is_promised_to_one_run_is_there_for_no_other(bench: Dissolving) -> None:
    world, version = bench.world, bench.soap()
    bench.dissolve("150", "150")
    for days in (9, 3):
        day = (world.now + timedelta(days=days)).date()
        plan_run(actor=world.actor, version=version, fats_g=Decimal(1000), pour_on=day, at=world.now)
    shares = share_out(workshop=world.workshop, at=world.now)
    took = {one.run: one.material for one in shares.likely if one.material in (str(bench.solution.pk), str(bench.lye.pk))}
    # The one that was planned first is poured last, and keeps what it was promised.
    first, other = (f"run {run.pk}" for run in Run.objects.within(world.workshop).order_by("pk"))
    assert took == {first: str(bench.solution.pk), other: str(bench.lye.pk)}


def test_a_run_takes_it_only_where_its_water_has_room_for_all_of_it(bench: Dissolving) -> None:
    bench.dissolve()
    milk = bench.soap(liquid("goat_milk", "330"), name="All milk")
    assert bench.row(bench.held(milk), bench.solution) is None
    assert bench.row(bench.held(milk), bench.lye).likely.short_g == 0
    dry_g = bench.row(bench.held(milk), bench.lye).likely.needed_g
    for water, is_taken in ((dry_g * 0.99, False), (dry_g * 1.03, True)):
        lines = liquid("water", f"{water:.1f}"), liquid("goat_milk", f"{330 - water:.1f}", goes_in="trace")
        half = bench.soap(*lines, name=f"Half {water:.0f}")
        assert (bench.row(bench.held(half), bench.solution) is not None) is is_taken


def test_a_run_is_promised_none_that_its_sheet_refuses_for_the_cold_or_for_another_purity(bench: Dissolving) -> None:
    bench.dissolve()
    for number, more in enumerate(({"front_c": Decimal(15)}, {"naoh_purity": Decimal("0.97")})):
        version = bench.soap(name=f"Soap {number}", **more)
        held = bench.held(version)
        assert bench.row(held, bench.solution) is None
        assert held.standing == "enough"


def test_a_planned_run_keeps_its_lye_where_nothing_is_dissolved_any_more(bench: Dissolving) -> None:
    world, version = bench.world, bench.soap()
    bench.dissolve()
    day = (world.now + timedelta(days=4)).date()
    run = plan_run(actor=world.actor, version=version, fats_g=Decimal(1000), pour_on=day, at=world.now)
    row = Reservation.objects.within(world.workshop).get(run=run, material=bench.lye)
    assert row.water_g == 330
    write_blend(actor=world.actor, material=bench.solution, entry=BlendEntry(), at=world.now)
    shares = share_out(workshop=world.workshop, at=world.now)
    assert not shares.short_of(run)
    lye = next(one for one in shares.likely if one.material == str(bench.lye.pk))
    assert lye.needed_g == pytest.approx(float(row.amount_g)), "all of it dry"


def test_lye_that_is_booked_as_a_solution_is_reserved_no_more(bench: Dissolving) -> None:
    world, version = bench.world, bench.soap()
    lot = bench.dissolve().lot
    run = plan_run(actor=world.actor, version=version, fats_g=Decimal(1000), pour_on=world.now.date(), at=world.now)
    entry = BatchEntry(
        formula_name="", version=version, poured_at=world.now, cut_at=None, bars=10, fats_g=Decimal(1000),
        lye_g=Decimal("127.3"), liquids=(LiquidEntry("water", Decimal(330)),),
    )  # fmt: skip
    batch = enter_batch(actor=world.actor, entry=entry, rack=RackEntry(), run=run, at=world.now)

    def promised() -> set[str]:
        rows = Reservation.objects.within(world.workshop).standing().select_related("material")
        return {row.material.name for row in rows}

    assert "Sodium hydroxide" in promised()
    bench.book(batch, lot, 255)
    assert "Sodium hydroxide" not in promised()


# What is weighed out


def test_the_sheet_says_how_much_of_it_stands_for_the_lye_and_how_much_water_comes_with_it(bench: Dissolving) -> None:
    lot = bench.dissolve().lot
    figures, (found,) = bench.sheet(bench.soap())
    (lye,) = figures.lye
    assert (found.lot, found.why_not) == (lot, "")
    # Half of it is lye, of the same certificate; a step less for what the scale may have been off as it was made.
    assert found.weigh_g == pytest.approx(2 * lye.weigh_g, rel=0.01)
    assert found.weigh_g <= 2 * lye.weigh_g
    assert found.lye_g == pytest.approx(found.weigh_g / 2)
    assert found.water_g == pytest.approx(found.weigh_g / 2)


@pytest.mark.parametrize("superfat", ["0.03", "0.05"])
def test_the_low_end_of_the_superfat_holds_at_the_worst_of_a_solution(bench: Dissolving, superfat: str) -> None:
    bench.dissolve("50", "50")
    figures, (found,) = bench.sheet(bench.soap(superfat=superfat))
    step_g = float(bench.world.scale.step_g)
    # As it was made the scale showed half a step too little of the lye, and half a step too much of the whole; now too.
    really = (50 + step_g / 2) * min(1.0, 0.985 + 0.005) / (100 - step_g / 2)
    mol = (found.weigh_g + step_g / 2) * really / NAOH_G_PER_MOL
    (lye,) = figures.lye
    fats_low_mol = lye.mol(step_g).high / (1 - figures.superfat.of_fats.low)
    assert 1 - mol / fats_low_mol >= figures.superfat.of_fats.low - 1e-9


def test_what_is_not_for_a_formula_says_why(bench: Dissolving) -> None:
    bench.dissolve("100", "100")
    assert bench.sheet(bench.soap())[1][0].why_not == "there is not enough of it"
    bench.dissolve("500", "500")
    front = bench.soap(liquid("water", "140"), liquid("goat_milk", "190", goes_in="trace"), name="Half")
    reasons = {one.why_not for one in bench.sheet(front)[1]}
    cold = bench.soap(name="Cold", front_c=Decimal(5))
    assert "so cold it may set" in " ".join(one.why_not for one in bench.sheet(cold)[1])
    assert "" in reasons, "as much water as lye is enough for half of each"
    milk = bench.soap(liquid("goat_milk", "330"), name="All milk")
    assert {one.why_not for one in bench.sheet(milk)[1]} == {"it brings more water than goes in front"}


def test_a_lot_that_is_not_in_order_is_not_offered(bench: Dissolving) -> None:
    made = bench.dissolve(standing="quarantine")
    assert bench.sheet(bench.soap())[1] == []
    assert made.lot.standing == "quarantine"


def test_what_was_found_missing_may_have_dried_out_and_less_is_weighed(bench: Dissolving) -> None:
    lot, version = bench.dissolve().lot, bench.soap()
    before = bench.sheet(version)[1][0].weigh_g
    count(actor=bench.world.actor, lot=lot, counted=Decimal(900), moment=bench.world.now, at=bench.world.now, reason="weighed")
    after = bench.sheet(version)[1][0].weigh_g
    assert after == pytest.approx(before * 0.9, rel=0.01)


# Its own figure


def test_its_own_figure_may_be_below_half_and_counts(bench: Dissolving) -> None:
    lot = bench.dissolve().lot
    version = bench.soap()
    before = bench.sheet(version)[1][0].weigh_g
    bench.say(lot, "48.5")
    after = bench.sheet(version)[1][0].weigh_g
    # By weight it holds 49.25 %.
    assert before < after < before * 49.25 / 48.5 * 1.01
    said = refused("purity", lambda: bench.say(lot, "0.485"), Invalid)
    assert "48.5 and not 0.485" in said
    refused("purity", lambda: bench.say(lot, "98.5"), Invalid)
    refused("purity", lambda: bench.say(bench.dry, "45"), Invalid)


def test_a_figure_that_is_not_what_was_weighed_is_asked_about_and_weighs_nothing_out(bench: Dissolving) -> None:
    lot = bench.dissolve().lot
    said = refused("value_doubtful", lambda: bench.say(lot, "25"))
    assert "By what was weighed into it" in said
    bench.say(lot, "25", value_confirmed=True)
    version = bench.soap()
    assert bench.sheet(version)[1][0].why_not == "how strong it is, is doubtful: look at its figures"
    (lye,) = bench.sheet(version)[0].lye
    batch = bench.book(bench.poured(version, lye.weigh_g), lot, 2 * lye.weigh_g)
    assert batch.needs_check
    assert batch.superfat_low < Decimal("0.06"), "what was weighed counts beside it"


# What a batch took


def test_a_batch_of_a_solution_is_reckoned_as_one_of_its_dry_lye(bench: Dissolving) -> None:
    lot, version = bench.dissolve().lot, bench.soap()
    (lye,) = bench.sheet(version)[0].lye
    plain = bench.book(bench.poured(version, lye.weigh_g), bench.dry, lye.weigh_g)
    dissolved = bench.book(bench.poured(version, lye.weigh_g), lot, 2 * lye.weigh_g)
    assert dissolved.superfat_middle == plain.superfat_middle
    assert dissolved.superfat_low <= plain.superfat_low < plain.superfat_high <= dissolved.superfat_high
    assert dissolved.superfat_low > plain.superfat_low - Decimal("0.01")


def test_a_batch_that_took_more_of_it_than_stands_for_its_lye_is_conditioned(bench: Dissolving) -> None:
    lot, version = bench.dissolve().lot, bench.soap()
    (lye,) = bench.sheet(version)[0].lye
    batch = bench.book(bench.poured(version, lye.weigh_g), lot, 2 * lye.weigh_g + 20)
    assert batch.needs_check
    assert batch.superfat_low < 0


def test_its_own_figure_reaches_the_batch(bench: Dissolving) -> None:
    lot, version = bench.dissolve().lot, bench.soap()
    (lye,) = bench.sheet(version)[0].lye
    batch = bench.book(bench.poured(version, lye.weigh_g), lot, 2 * lye.weigh_g)
    before = batch.superfat_middle
    bench.say(lot, "48.5")
    batch.refresh_from_db()
    assert batch.superfat_middle == pytest.approx(1 - (1 - before) * Decimal("48.5") / Decimal("49.25"), abs=Decimal("0.0002"))


def test_of_what_was_taken_back_nobody_knows_how_strong_it_is(bench: Dissolving) -> None:
    made, version = bench.dissolve(), bench.soap()
    (lye,) = bench.sheet(version)[0].lye
    batch = bench.book(bench.poured(version, lye.weigh_g), made.lot, 2 * lye.weigh_g)
    assert batch.superfat_middle is not None
    took = made.takes.get(movement__isnull=False).movement
    reverse(actor=bench.world.actor, movement=took, reason="another lot", at=bench.world.now)
    batch.refresh_from_db()
    assert batch.needs_check
    assert batch.superfat_middle is None
    assert bench.sheet(version)[1] == []
