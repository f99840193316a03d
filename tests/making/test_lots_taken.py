"""Where an amount takes several lots, the figure that counts is the one that asks for the least lye."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.common.errors import Invalid
from curehouse.core.chemistry.alkali import Alkali
from curehouse.making.formulas.adapter import Planned
from curehouse.making.formulas.costs import cost_of
from curehouse.making.formulas.entries import FormulaEntry, GoesIn, LineEntry, Per, Role
from curehouse.making.formulas.known import LotKnown
from curehouse.making.formulas.lots import lye_taken, of_material
from curehouse.making.formulas.sizes import Size, in_size
from curehouse.making.services.formulas import judged, plan
from inventory.models import Lot, Material
from inventory.services.lots import record_value
from tests.formulas import FATS, LIQUIDS, formula_entry
from tests.world import World


def stored(world: World, name: str, kind: str, *lots: tuple[str, str | None], figure: str = "Purity") -> Material:
    """Return a material with lots of so many grams and such a figure, the first to be used up first."""
    material = world.material(name, kind=kind)
    for number, (on_hand, value) in enumerate(lots):
        best_before = (world.now + timedelta(days=9000 + number)).date()
        lot = world.lot(on_hand, material=material, best_before=best_before)
        if value is not None:
            record_value(actor=world.actor, lot=lot, name=figure, value=Decimal(value), unit="", at=world.now)
    return material


def worked(world: World, entry: FormulaEntry) -> Planned:
    return plan(workshop=world.workshop, entry=entry, at=world.now)


def weighed_g(one: Planned) -> float:
    figures = judged(one).figures
    assert figures is not None
    return figures.lye_g


@pytest.mark.django_db
def test_lye_of_a_lot_too_small_for_the_batch_counts_as_pure_as_the_next_one(world: World) -> None:
    lye = stored(world, "Sodium hydroxide", "lye", ("50", "95"), ("5000", "99.5"))
    one = worked(world, formula_entry(naoh_from=lye))
    assert [float(take.mass_g) for take in of_material(one.taken, lye)] == pytest.approx([50, 91.4], abs=0.1)
    assert weighed_g(one) == weighed_g(worked(world, formula_entry(naoh_purity=Decimal("0.995"))))
    (part,) = one.formula.lye
    assert part.purity is not None
    # Both lots lie between the ends.
    assert (part.purity.low, part.purity.high) == pytest.approx((0.945, 1.0))


@pytest.mark.django_db
def test_lye_that_one_lot_holds_is_of_that_lot_alone(world: World) -> None:
    lye = stored(world, "Sodium hydroxide", "lye", ("150", "95"), ("5000", "99.5"))
    one = worked(world, formula_entry(naoh_from=lye))
    assert len(of_material(one.taken, lye)) == 1
    assert weighed_g(one) == weighed_g(worked(world, formula_entry(naoh_purity=Decimal("0.95"))))
    # Twice the batch needs the other lot too.
    larger = in_size(one, Size(fats_g=Decimal(2000)))
    assert [take.of.lot.on_hand for take in of_material(larger.taken, lye)] == [150, 5000]
    assert weighed_g(larger) == pytest.approx(140.6 * 2 / 0.995, abs=0.5)
    bars = in_size(one, Size(bars=20, cut_g=Decimal(120)))
    figures = judged(bars).figures
    assert figures is not None
    assert figures.batch_g.middle == pytest.approx(2400, abs=1)


@pytest.mark.django_db
def test_lye_without_a_certificate_that_is_needed_too_counts_as_pure(world: World) -> None:
    lye = stored(world, "Sodium hydroxide", "lye", ("50", "97"), ("5000", None))
    one = worked(world, formula_entry(naoh_from=lye))
    assert weighed_g(one) == weighed_g(worked(world, formula_entry()))
    assert "naoh_counted_pure" in {finding.code for finding in judged(one).findings}


@pytest.mark.django_db
def test_potassium_hydroxide_whose_next_lot_is_not_certified_shows_no_amount(world: World) -> None:
    koh = stored(world, "Potassium hydroxide", "lye", ("5", "90"), ("5000", None))
    found = judged(worked(world, formula_entry(naoh_share=Decimal("0.9"), koh_from=koh)))
    assert "koh_purity_missing" in {finding.code for finding in found.findings}
    enough = stored(world, "Potassium hydroxide, flakes", "lye", ("500", "90"), ("5000", None))
    assert judged(worked(world, formula_entry(naoh_share=Decimal("0.9"), koh_from=enough))).figures is not None


@pytest.mark.django_db
@pytest.mark.parametrize("typed", ["0.95", "0.9949"])
def test_a_purity_typed_into_the_formula_never_counts_over_a_lot_that_is_purer(world: World, typed: str) -> None:
    lye = stored(world, "Sodium hydroxide", "lye", ("5000", "99.5"))
    one = worked(world, formula_entry(naoh_from=lye, naoh_purity=Decimal(typed)))
    assert weighed_g(one) == weighed_g(worked(world, formula_entry(naoh_purity=Decimal("0.995"))))
    koh = stored(world, "Potassium hydroxide", "lye", ("5000", "95"))
    mixed = {"naoh_share": Decimal(0), "liquid": Decimal(400)}
    one = worked(world, formula_entry(koh_from=koh, koh_purity=Decimal("0.86"), **mixed))
    assert weighed_g(one) == weighed_g(worked(world, formula_entry(koh_purity=Decimal("0.95"), **mixed)))


@pytest.mark.django_db
def test_a_purity_typed_into_the_formula_counts_for_a_lot_that_says_none(world: World) -> None:
    lye = stored(world, "Sodium hydroxide", "lye", ("5000", None))
    typed = worked(world, formula_entry(naoh_from=lye, naoh_purity=Decimal("0.97")))
    assert weighed_g(typed) == weighed_g(worked(world, formula_entry(naoh_purity=Decimal("0.97"))))


@pytest.mark.django_db
def test_lye_beyond_what_is_here_counts_as_pure_for_nobody_has_seen_its_certificate(world: World) -> None:
    lye = stored(world, "Sodium hydroxide", "lye", ("50", "96"))
    one = worked(world, formula_entry(naoh_from=lye))
    assert weighed_g(one) == weighed_g(worked(world, formula_entry()))
    assert "naoh_counted_pure" in {finding.code for finding in judged(one).findings}
    typed = worked(world, formula_entry(naoh_from=lye, naoh_purity=Decimal("0.97")))
    assert weighed_g(typed) == weighed_g(worked(world, formula_entry(naoh_purity=Decimal("0.97"))))
    koh = stored(world, "Potassium hydroxide", "lye", ("5", "90"))
    found = judged(worked(world, formula_entry(naoh_share=Decimal("0.9"), koh_from=koh)))
    assert "koh_purity_missing" in {finding.code for finding in found.findings}


def of_olive(material: Material) -> FormulaEntry:
    return formula_entry(lines=(LineEntry(Role.FAT, material=material, amount=Decimal(700)), FATS[1], *LIQUIDS))


@pytest.mark.django_db
def test_a_fat_from_two_lots_counts_with_the_lower_value_and_its_ends_hold_both(world: World) -> None:
    olive = stored(world, "Olive oil", "fat", ("400", "192"), ("5000", "187"), figure="Saponification value")
    (value, _coconut) = [one.saponification for one in worked(world, of_olive(olive)).formula.fats]
    assert (value.low, value.middle, value.high) == pytest.approx((187 * 0.995, 187, 192 * 1.005))


@pytest.mark.django_db
def test_a_fat_whose_other_lot_has_no_certificate_counts_with_the_published_range_too(world: World) -> None:
    olive = stored(world, "Olive oil", "fat", ("400", "192"), ("5000", None), figure="Saponification value")
    (value, _coconut) = [one.saponification for one in worked(world, of_olive(olive)).formula.fats]
    # The published range of olive oil is 184 to 196.
    assert (value.low, value.middle, value.high) == pytest.approx((184, 190, 196))
    own = stored(world, "Bucket from the fair", "fat", ("400", "192"), ("5000", None), figure="Saponification value")
    with pytest.raises(Invalid) as caught:
        worked(world, of_olive(own))
    assert str(Lot.objects.within(world.workshop).filter(material=own).latest("pk")) in caught.value.message


@pytest.mark.django_db
def test_fat_beyond_what_is_here_counts_with_the_published_range_too(world: World) -> None:
    olive = stored(world, "Olive oil", "fat", ("400", "193"), figure="Saponification value")
    (value, _coconut) = [one.saponification for one in worked(world, of_olive(olive)).formula.fats]
    assert (value.low, value.middle, value.high) == pytest.approx((184, 190, 196))


@pytest.mark.django_db
def test_a_value_typed_into_the_formula_never_counts_over_a_lot_that_takes_less(world: World) -> None:
    olive = stored(world, "Olive oil", "fat", ("5000", "187"), figure="Saponification value")
    entry = of_olive(olive)
    typed = replace(entry, lines=[replace(entry.lines[0], saponification=Decimal(193)), *entry.lines[1:]])
    (value, _coconut) = [one.saponification for one in worked(world, typed).formula.fats]
    assert (value.low, value.middle, value.high) == pytest.approx((187 * 0.995, 187, 193 * 1.005))


@pytest.mark.django_db
def test_a_certificate_that_cannot_be_is_found_in_the_second_lot_too(world: World) -> None:
    olive = stored(world, "Olive oil", "fat", ("400", "190"), ("5000", "220"), figure="Saponification value")
    codes = {finding.code: finding for finding in judged(worked(world, of_olive(olive))).findings}
    assert codes["certificate_outside_range"].figures["value"] == "220"


@pytest.mark.django_db
def test_milk_from_two_lots_has_their_mean_and_ends(world: World) -> None:
    milk = stored(world, "Goat's milk", "liquid", ("85", "3"), ("5000", "5"), figure="Fat")
    line = LineEntry(Role.LIQUID, material=milk, per=Per.REST, goes_in=GoesIn.TRACE)
    one = worked(world, formula_entry(lines=(*FATS, LIQUIDS[0], line)))
    made_of = one.formula.liquids[1].made_of
    assert (made_of.fat.low, made_of.fat.middle, made_of.fat.high) == pytest.approx((0.03, 0.04, 0.05))
    assert made_of.fat_measured


@pytest.mark.django_db
def test_two_lines_of_one_material_take_its_lots_together(world: World) -> None:
    milk = stored(world, "Goat's milk", "liquid", ("150", "3"), ("5000", "5"), figure="Fat")
    lines = [LineEntry(Role.LIQUID, material=milk, amount=Decimal(160), goes_in=place) for place in GoesIn.values]
    one = worked(world, formula_entry(lines=(*FATS, *lines), superfat=Decimal("0.25")))
    assert [float(take.mass_g) for take in of_material(one.taken, milk)] == [150, 170]


@pytest.mark.django_db
def test_what_it_costs_is_the_cost_of_the_lots_it_takes(world: World) -> None:
    material = world.material("Olive oil")
    for on_hand, cost, days in (("400", "0.01", 100), ("5000", "0.03", 200)):
        best_before = (world.now + timedelta(days=days)).date()
        world.lot(on_hand, material=material, unit_cost=Decimal(cost), best_before=best_before)
    one = worked(world, of_olive(material))
    cost = cost_of(one, judged(one).figures)
    assert cost is not None
    assert cost.total == Decimal("13.00")


@pytest.mark.django_db
@pytest.mark.parametrize("order", [1, -1])
def test_of_two_names_for_one_figure_the_one_that_asks_for_less_lye_counts(world: World, order: int) -> None:
    lye = stored(world, "Sodium hydroxide", "lye", ("5000", None))
    for name, value in (("Assay", "97"), ("Purity", "99"))[::order]:
        record_value(actor=world.actor, lot=lye.lots.get(), name=name, value=Decimal(value), unit="%", at=world.now)
    assert worked(world, formula_entry(naoh_from=lye)).formula.lye[0].counted_purity == pytest.approx(0.99)
    olive = stored(world, "Olive oil", "fat", ("5000", None))
    for name, value in (("SAP", "188"), ("Saponification value", "191"))[::order]:
        record_value(actor=world.actor, lot=olive.lots.get(), name=name, value=Decimal(value), unit="", at=world.now)
    assert worked(world, of_olive(olive)).formula.fats[0].saponification.middle == pytest.approx(188)


@given(
    st.lists(st.tuples(st.floats(1, 400), st.none() | st.floats(85, 100.5)), min_size=1, max_size=6),
    st.floats(1, 1500),
)
def test_no_lot_that_is_taken_is_purer_than_what_counts(lots: list[tuple[float, float | None]], pure_g: float) -> None:
    known = [
        LotKnown(
            Lot(pk=number, on_hand=Decimal(f"{on_hand:.3f}")), {} if percent is None else {"purity": Decimal(f"{percent:.2f}")}
        )
        for number, (on_hand, percent) in enumerate(lots)
    ]
    found, purity = lye_taken(Alkali.NAOH, known, pure_g)
    assert purity is not None
    assert [take.of for take in found] == known[: len(found)]
    for take in found:
        percent = take.figure("purity")
        assert purity.middle >= (1 if percent is None else min(1, float(percent / 100)))
    weigh_g = Decimal(str(pure_g / purity.middle))
    held_g = sum((take.of.lot.on_hand for take in found), Decimal(0))
    assert held_g >= weigh_g or len(found) == len(known)
    if held_g < weigh_g:
        # The rest is of a lot that nobody has seen.
        assert purity.middle == 1
    if len(found) > 1:
        # One lot less would not have been enough for what they alone would ask for.
        fewer = known[: len(found) - 1]
        purest = max(min(1.0, float(lot.figures.get("purity", 100) / 100)) for lot in fewer)
        assert sum((lot.lot.on_hand for lot in fewer), Decimal(0)) < Decimal(str(pure_g / purest))


@pytest.mark.django_db
def test_a_fat_of_no_list_is_not_worked_out_by_what_is_left_of_a_lot(world: World) -> None:
    wax = stored(world, "Badger fat", "fat", ("1", "250"), figure="SAP")
    line = LineEntry(Role.FAT, material=wax, per=Per.GRAMS, amount=Decimal(1000))
    with pytest.raises(Invalid, match="Badger fat takes is not known of what its lots do not hold: ") as refused:
        worked(world, formula_entry(lines=(line, *LIQUIDS)))
    assert (refused.value.code, refused.value.field) == ("unknown_fat", "fats")
    # Typed, it counts for all of it; and what the lots hold is known by their certificate.
    typed = replace(line, saponification=Decimal(200))
    assert worked(world, formula_entry(lines=(typed, *LIQUIDS))).formula.fats[0].saponification.middle == 200
    held = stored(world, "Otter fat", "fat", ("1000", "250"), figure="SAP")
    assert (
        worked(world, formula_entry(lines=(replace(line, material=held), *LIQUIDS))).formula.fats[0].saponification.middle
        == 250
    )
