"""A lot whose receipt was taken back is brought in again by the list that brought it; all others stay known."""

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from curehouse.flows.bring_in.outcome import Outcome
from inventory.balance import differences
from inventory.models import Lot, Movement
from inventory.services.lots import LotPapers, correct_lot
from inventory.services.movements import reverse
from tests.flows.bring_in.test_bring_stock import LABELS, LYE, OLIVE, _folder, held, stock
from tests.world import World

__all__ = ["_folder"]
pytestmark = pytest.mark.django_db
SAID = "comes in again: its receipt was taken back since"


def receipt_of(world: World, lot: Lot) -> Movement:
    return Movement.objects.within(world.workshop).filter(lot=lot, kind="receive").in_force().get()


def take_back(world: World, material: str) -> Lot:
    lot = Lot.objects.within(world.workshop).filter(material__name=material).order_by("-pk").first()
    reverse(actor=world.actor, movement=receipt_of(world, lot), reason="never came", at=world.now)
    lot.refresh_from_db()
    assert lot.on_hand == 0
    return lot


def said(outcome: Outcome) -> str:
    return " ".join(outcome.remarks)


@pytest.mark.parametrize("row", [OLIVE, LYE, LABELS])
def test_a_lot_that_was_taken_back_comes_in_again_and_once(world: World, tmp_path: Path, row: tuple[str, ...]) -> None:
    rows = (OLIVE, LYE, LABELS)
    stock(world, tmp_path, *rows)
    was = take_back(world, row[0])
    again = stock(world, tmp_path, *rows)
    assert (again.refused_rows, again.adds["lots"], again.known["lots"]) == (0, 1, 2), again.refusals
    assert f"1 lot {SAID}." in said(again)
    lots = Lot.objects.within(world.workshop).filter(material=was.material).order_by("pk")
    assert [lot.pk == was.pk for lot in lots] == [True, False]
    assert lots[1].on_hand == receipt_of(world, lots[1]).amount > 0
    third = stock(world, tmp_path, *rows)
    assert (third.adds_nothing, third.known["lots"]) == (True, 3)
    assert SAID not in said(third)
    assert differences() == []


def test_it_may_come_in_with_another_amount(world: World, tmp_path: Path) -> None:
    """The first was wrong: that is why it was taken back."""
    stock(world, tmp_path, OLIVE)
    other = (*OLIVE[:2], "4 kg", *OLIVE[3:])
    assert "is another amount than came in with this lot before" in stock(world, tmp_path, other).refusals[0].why
    take_back(world, "Olive oil")
    again = stock(world, tmp_path, other)
    assert again.adds["lots"] == 1, again.refusals
    assert held(world) == {"Olive oil": Decimal(4000)}
    assert stock(world, tmp_path, other).known["lots"] == 1


def test_it_can_be_taken_back_and_brought_in_any_number_of_times(world: World, tmp_path: Path) -> None:
    for times in range(1, 4):
        assert stock(world, tmp_path, OLIVE).adds["lots"] == 1
        assert Lot.objects.within(world.workshop).count() == times
        take_back(world, "Olive oil")
    assert differences() == []


def test_a_lot_that_was_corrected_stays_known_until_it_is_taken_back(world: World, tmp_path: Path) -> None:
    """Another day of receipt books the receipt anew: that is no receipt taken back."""
    stock(world, tmp_path, OLIVE)
    lot = Lot.objects.within(world.workshop).get()
    papers = LotPapers(lot.supplier_lot, lot.best_before, lot.unit_cost, date(2026, 1, 2))
    correct_lot(actor=world.actor, lot=lot, papers=papers, why="the note says so", at=world.now)
    again = stock(world, tmp_path, OLIVE)
    assert (again.adds_nothing, again.known["lots"]) == (True, 1)
    take_back(world, "Olive oil")
    assert stock(world, tmp_path, OLIVE).adds["lots"] == 1


def test_the_same_lot_number_entered_by_hand_is_not_doubled(world: World, tmp_path: Path) -> None:
    stock(world, tmp_path, OLIVE)
    take_back(world, "Olive oil")
    assert stock(world, tmp_path, OLIVE).adds["lots"] == 1
    fewer = (*OLIVE[:5], "", *OLIVE[6:])
    assert "is here already" in " ".join(one.why for one in stock(world, tmp_path, fewer).refusals)
