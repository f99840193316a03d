"""A stock list tells of a day: what was used before it was lacking already, what was used from then on comes off."""

from decimal import Decimal
from pathlib import Path

import pytest

from curehouse.common.errors import Invalid
from inventory.balance import differences
from inventory.models import Movement
from inventory.services.movements import count, reverse
from tests.flows.bring_in.test_bring_stock import OLIVE, _folder, held, nothing_is_here, stock, uses
from tests.world import World

pytestmark = pytest.mark.django_db
__all__ = ["_folder"]


def test_what_was_used_on_the_day_of_the_stock_list_comes_off(world: World, tmp_path: Path) -> None:
    assert (
        "there on the morning of 2026-03-10: what was used from then on comes off" in stock(world, tmp_path, OLIVE).remarks[0]
    )
    uses(
        world,
        tmp_path,
        ("", "Olive oil", "", "", "500 g", "2026-03-10", ""),
        ("", "Olive oil", "", "", "1 kg", "2026-03-09", ""),
    )
    assert held(world) == {"Olive oil": Decimal("5000")}
    assert differences() == []


@pytest.mark.parametrize(
    ("as_of", "left", "said"),
    [
        ("2026-03-08", "5000", "on the morning of 2026-03-08"),
        ("2026-03-08 13:00", "5300", "on 2026-03-08 13:00"),
        ("2026-03-09", "5300", "on the morning of 2026-03-09"),
    ],
)
def test_a_stock_list_of_another_day_lacks_what_was_used_before_it(
    world: World, tmp_path: Path, as_of: str, left: str, said: str
) -> None:
    outcome = stock(world, tmp_path, OLIVE, as_of=as_of)
    assert said in outcome.remarks[0]
    uses(
        world, tmp_path,
        ("", "Olive oil", "", "", "1 kg", "2026-03-07", ""),
        ("", "Olive oil", "", "", "300 g", "2026-03-08", ""),
        ("", "Olive oil", "", "", "200 g", "2026-03-09 08:00", ""),
    )  # fmt: skip
    assert held(world) == {"Olive oil": Decimal(left)}
    assert differences() == []


def test_a_stock_list_lies_neither_in_the_future_nor_before_its_lots(world: World, tmp_path: Path) -> None:
    for as_of, said in (("2026-03-11", "lies in the future"), ("2026-03-10 23:00", "future"), ("March", "is no date")):
        with pytest.raises(Invalid, match=said) as refused:
            stock(world, tmp_path, OLIVE, as_of=as_of)
        assert refused.value.field == "as_of"
    (refusal,) = stock(world, tmp_path, OLIVE, as_of="2026-01-09").refusals
    assert "comes after the day of the stock list, 2026-01-09" in refusal.why
    assert nothing_is_here(world)


def test_a_past_use_before_a_count_leaves_what_was_counted(world: World, tmp_path: Path) -> None:
    by_hand = world.lot("1000", supplier_lot="H-1")
    count(
        actor=world.actor, lot=by_hand, counted=Decimal(900), moment=world.days_ago(2), at=world.now, reason="weighed"
    )  # fmt: skip
    row = ("", "Olive oil", "", "H-1", "100 g", f"{world.days_ago(3):%Y-%m-%d}", "")
    outcome = uses(world, tmp_path, row, (*row[:5], f"{world.days_ago(1):%Y-%m-%d}", ""))
    assert "1 use from before a count" in outcome.remarks[0]
    assert held(world) == {"Olive oil": Decimal(800)}
    assert differences() == []


def test_the_receipt_of_a_listed_lot_taken_back_takes_what_the_list_said(world: World, tmp_path: Path) -> None:
    stock(world, tmp_path, OLIVE)
    uses(world, tmp_path, ("", "Olive oil", "", "", "1 kg", "2026-03-01", ""))
    receipt, used = (Movement.objects.within(world.workshop).get(kind=kind) for kind in ("receive", "use"))
    reverse(actor=world.actor, movement=receipt, reason="another list", at=world.now)
    # What was used of it was there all the same.
    assert (held(world), differences()) == ({"Olive oil": Decimal(0)}, [])
    reverse(actor=world.actor, movement=used, reason="another list", at=world.now)
    assert held(world) == {"Olive oil": Decimal(0)}
    assert differences() == []
