"""A batch is written with the water of its fresh bar, or refused with a sentence, whole."""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict, Invalid
from curehouse.making.models import Batch, BatchLiquid, Formula
from curehouse.making.services import LiquidEntry, computed_water_share, cut_batch, write_batch
from tests.world import World

WATER, GOAT = LiquidEntry("water", Decimal(420)), LiquidEntry("goat_milk", Decimal(220), place="trace")


# Worked by hand from the table's grams of water per 100 g.
@pytest.mark.parametrize(
    ("fats_g", "lye_g", "liquids", "share"),
    [
        # 420 + 220 x 0.8703 = 611.466 of 2000 + 283.5 + 640 = 2923.5
        ("2000", "283.5", [WATER, GOAT], "0.2092"),
        # 300 x 0.7288 = 218.64 of 1000 + 140 + 300 = 1440
        ("1000", "140", [LiquidEntry("coconut_milk_canned", Decimal(300))], "0.1518"),
        # 150 + 15 x 0.0247 = 150.3705 of 500 + 70 + 165 = 735
        ("500", "70", [LiquidEntry("water", Decimal(150)), LiquidEntry("cow_powder", Decimal(15))], "0.2046"),
        # A lot's own figure, 0.90 where the table says 0.8703: 198 of 1000 + 142 + 220 = 1362
        ("1000", "142", [LiquidEntry("goat_milk", Decimal(220), Decimal("0.90"))], "0.1454"),
    ],
)
def test_the_water_share_is_the_liquids_water_over_all_that_went_in(
    world: World, fats_g: str, lye_g: str, liquids: list[LiquidEntry], share: str
) -> None:
    entry = world.batch_entry(fats_g=Decimal(fats_g), lye_g=Decimal(lye_g), liquids=liquids)
    assert computed_water_share(entry) == Decimal(share)


def test_a_stated_water_share_beats_the_computed_one_and_both_are_kept(world: World) -> None:
    batch = world.batch(water_share_stated=Decimal("0.25"))
    assert (batch.water_share, batch.water_share_computed) == (0.25, Decimal("0.2092"))


def test_a_batch_without_liquids_needs_its_water_share_stated(world: World) -> None:
    with pytest.raises(Invalid) as refused:
        world.batch(liquids=[])
    assert refused.value.code == "no_liquid"
    assert world.batch(liquids=[], water_share_stated=Decimal("0.2")).water_share == 0.2


def test_a_batch_keeps_each_liquid_with_the_water_part_it_was_counted_with(world: World) -> None:
    world.batch(liquids=[WATER, LiquidEntry("goat_milk", Decimal(220), Decimal("0.9"), "trace")])
    kept = BatchLiquid.objects.within(world.workshop).order_by("pk").values_list("kind", "mass_g", "water_fraction", "place")
    assert list(kept) == [("water", 420, 1, "front"), ("goat_milk", 220, Decimal("0.9"), "trace")]


def test_a_formula_is_written_once_however_it_is_capitalised(world: World) -> None:
    formulas = {world.batch(formula_name=name).formula_id for name in ("Goat & oat", "  goat  &  OAT ", "Goat & oat")}
    assert len(formulas) == 1


def test_batches_count_up_in_each_workshop(world: World, stranger: World) -> None:
    assert [world.batch().number, world.batch().number, stranger.batch().number] == [1, 2, 1]


BAD: list[tuple[str, Callable[[World], dict[str, object]], str]] = [
    ("no fats", lambda w: {"fats_g": Decimal(0)}, "fats_g"),
    ("fats below a milligram", lambda w: {"fats_g": Decimal("0.0004")}, "fats_g"),
    ("two tonnes of fats", lambda w: {"fats_g": Decimal(2_000_000)}, "fats_g"),
    ("no lye", lambda w: {"lye_g": Decimal(-1)}, "lye_g"),
    ("more lye than fats", lambda w: {"lye_g": Decimal(2000)}, "lye_g"),
    ("a liquid nobody knows", lambda w: {"liquids": [LiquidEntry("yak_milk", Decimal(1))]}, "liquids"),
    ("lye among the liquids", lambda w: {"liquids": [LiquidEntry("Natronlauge", Decimal(300), Decimal("0.5"))]}, "liquids"),
    ("lye among the liquids by its short name", lambda w: {"liquids": [LiquidEntry("KOH", Decimal(9), Decimal(0))]}, "liquids"),
    ("a liquid of no mass", lambda w: {"liquids": [LiquidEntry("water", Decimal(0))]}, "liquids"),
    ("a liquid below a milligram", lambda w: {"liquids": [LiquidEntry("water", Decimal("0.0001"))]}, "liquids"),
    ("a liquid wetter than water", lambda w: {"liquids": [LiquidEntry("water", Decimal(9), Decimal("1.01"))]}, "liquids"),
    ("a liquid in no place", lambda w: {"liquids": [LiquidEntry("water", Decimal(9), place="afterwards")]}, "liquids"),
    ("a pot of water", lambda w: {"liquids": [LiquidEntry("water", Decimal(5000))]}, "liquids"),
    ("a stated share of nothing", lambda w: {"water_share_stated": Decimal(0)}, "water_share_stated"),
    ("a share that rounds to nothing", lambda w: {"water_share_stated": Decimal("0.00001")}, "water_share_stated"),
    ("a stated share of most", lambda w: {"water_share_stated": Decimal("0.61")}, "water_share_stated"),
    ("no bars", lambda w: {"bars": 0}, "bars"),
    ("more bars than a house holds", lambda w: {"bars": 5001}, "bars"),
    ("no name", lambda w: {"formula_name": " \t "}, "formula_name"),
    ("a name without end", lambda w: {"formula_name": "x" * 121}, "formula_name"),
    ("a name that cannot be shown", lambda w: {"formula_name": "Goat\x00oat"}, "formula_name"),
    ("a note without end", lambda w: {"note": "x" * 4001}, "note"),
    ("a pour to come", lambda w: {"poured_at": w.now + timedelta(hours=1), "cut_at": None}, "poured_at"),
    ("a pour of the wrong century", lambda w: {"poured_at": w.now.replace(year=226)}, "poured_at"),
    ("a cut to come", lambda w: {"cut_at": w.now + timedelta(hours=1)}, "cut_at"),
    ("a cut before the pour", lambda w: {"poured_at": w.now, "cut_at": w.now - timedelta(hours=1)}, "cut_at"),
]


@pytest.mark.parametrize(("changes", "field"), [row[1:] for row in BAD], ids=[row[0] for row in BAD])
def test_a_batch_that_cannot_be_right_is_refused_by_field_and_nothing_is_written(
    world: World, changes: Callable[[World], dict[str, object]], field: str
) -> None:
    with pytest.raises(Invalid) as refused:
        world.batch(**changes(world))
    assert refused.value.field == field
    assert refused.value.message.endswith(".")
    assert not Batch.objects.within(world.workshop).exists()
    assert not Formula.objects.within(world.workshop).exists()
    world.workshop.refresh_from_db()
    assert world.workshop.last_batch_number == 0


def test_a_batch_that_is_poured_is_cut_later_and_once(world: World) -> None:
    entry = world.batch_entry(cut_days_ago=None, poured_at=world.days_ago(2))
    poured = write_batch(actor=world.actor, entry=entry, at=world.now)
    assert (poured.state, poured.bars_cut, poured.cut_at) == ("poured", 0, None)
    cut = cut_batch(batch=poured, cut_at=world.days_ago(1), bars=22, at=world.now)
    assert (cut.state, cut.bars_cut, cut.bars_left) == ("curing", 22, 22)
    with pytest.raises(Conflict) as refused:
        cut_batch(batch=cut, cut_at=world.days_ago(1), bars=22, at=world.now)
    assert refused.value.code == "cut_already"


@pytest.mark.parametrize(("days_ago", "code"), [(3, "cut_before_pour"), (-1, "future")])
def test_a_cut_lies_between_the_pour_and_now(world: World, days_ago: int, code: str) -> None:
    entry = world.batch_entry(cut_days_ago=None, poured_at=world.days_ago(2))
    poured = write_batch(actor=world.actor, entry=entry, at=world.now)
    with pytest.raises(Invalid) as refused:
        cut_batch(batch=poured, cut_at=world.days_ago(days_ago), bars=22, at=world.now)
    assert refused.value.code == code
