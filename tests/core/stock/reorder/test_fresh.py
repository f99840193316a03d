"""What does not keep: bought for dated runs, on the last day that is safe, and for no other."""

from dataclasses import replace

from curehouse.core.stock.lead_time import LeadTime
from curehouse.core.stock.reorder.drafted import Because
from curehouse.core.stock.reorder.fresh import fresh_packs
from curehouse.core.stock.reorder.kept import Coming, Kept, Lot
from tests.core.stock.reorder.nights import lines, night, offer, oil, run

THREE_DAYS = LeadTime((1.0,), 3)
MILK = offer("milk", pack=1000.0, price=4.0, lead=THREE_DAYS, life_days=6)


def milk(**more: object) -> Kept:
    return replace(Kept("milk", [], 730, offers=[MILK]), **more)  # type: ignore[arg-type]


def test_it_is_bought_for_a_run_on_the_last_safe_day_and_not_before() -> None:
    assert fresh_packs(milk(planned=[run(5, 1800)]), MILK, 1) == 0
    assert fresh_packs(milk(planned=[run(4, 1800)]), MILK, 1) == 2
    assert fresh_packs(milk(planned=[run(5, 1800)]), MILK, 3) == 2


def test_runs_the_same_delivery_keeps_for_are_bought_for_with_it() -> None:
    runs = [run(4, 1500, "a"), run(9, 1500, "b"), run(10, 1500, "c")]
    assert fresh_packs(milk(planned=runs), MILK, 1) == 3


def test_what_is_here_and_keeps_until_the_run_is_not_bought_again() -> None:
    runs = [run(4, 1500)]
    assert fresh_packs(milk(planned=runs, lots=[Lot("L", 1000, 5)]), MILK, 1) == 1
    assert fresh_packs(milk(planned=runs, lots=[Lot("L", 1000, 3)]), MILK, 1) == 2
    assert fresh_packs(milk(planned=runs, coming=[Coming("o", 2000, THREE_DAYS, 6)]), MILK, 1) == 0


def test_however_often_it_is_used_it_is_bought_for_no_run_that_has_no_day() -> None:
    often = oil("milk", here=0, every=4, offers=[MILK])
    assert not night(often).drafts
    line = lines(night(replace(often, planned=[run(3, 900)])))["milk"]
    assert (line.packs, line.because) == (1, Because.FRESH)
