"""What a night must not get wrong: milk bought twice, orders that come too late counted on, a risk said too small."""

from dataclasses import replace

from curehouse.core.stock.lead_time import LeadTime, lead_time
from curehouse.core.stock.reorder.announced import share_open
from curehouse.core.stock.reorder.fresh import fresh_packs
from curehouse.core.stock.reorder.kept import KEEPS_DAYS, Coming, Kept
from tests.core.stock.reorder.nights import MILL, lines, night, offer, oil, only, run


def test_milk_that_was_sent_for_is_not_ordered_again_because_it_may_come_too_late() -> None:
    lead = lead_time([3, 3, 4, 3, 2, 3, 4, 3], 3.0)
    milk = offer("milk", pack=1000.0, price=4.0, lead=lead, life_days=6)
    kept = Kept("milk", [], 730, planned=[run(4, 1800)], offers=[milk], coming=[Coming("sent today", 2000, lead, 6)])
    assert fresh_packs(kept, milk, 3) == 0


def test_milk_for_a_run_that_was_poured_and_not_booked_is_not_bought() -> None:
    milk = offer("milk", pack=1000.0, price=4.0, lead=LeadTime((1.0,), 3), life_days=6)
    assert fresh_packs(Kept("milk", [], 730, planned=[run(0, 900)], offers=[milk]), milk, 3) == 0


def test_enough_is_bought_for_a_planned_run_however_seldom_it_is_used_else() -> None:
    seldom = oil(here=0, every=60, grams=500, planned=[run(9, 9000)], offers=[offer(pack=1000.0, price=8.0, life_days=180)])
    assert lines(night(seldom, review_days=3))["olive"].packs >= 9


def test_of_what_was_never_used_about_as_much_is_bought_as_is_planned() -> None:
    others = [oil(f"o{i}", here=60_000, every=10) for i in range(8)]
    new = Kept("cocoa", [], 1, planned=[run(9, 9000)], offers=[offer("cocoa", pack=1000.0, price=8.0, life_days=180)])
    assert lines(night(new, *others, review_days=3))["cocoa"].packs <= 18


def test_what_comes_after_the_run_or_perhaps_never_does_not_serve_it() -> None:
    coming = [Coming("promised in 90 days", 20_000, LeadTime((1.0,), 90), 400)]
    assert night(oil(here=0, coming=coming, planned=[run(10, 9000)]), review_days=3).watched[0].risk > 0.5


def test_where_the_plan_holds_all_that_is_usual_nothing_more_is_expected_as_the_material_s_page_says() -> None:
    planned = oil(here=6000, planned=[run(day, 1500) for day in (3, 13, 23, 33)])
    assert not night(planned, review_days=3).watched[0].is_due
    # Seventy-three past runs, none of them planned, say that others come beside these.
    assert night(planned, unplanned=tuple(share_open([0] * 73)), review_days=3).watched[0].is_due


def test_what_would_be_left_of_the_risk_does_not_hold_a_run_before_its_delivery_as_served() -> None:
    assert lines(night(oil(here=0, planned=[run(1, 1500)]), review_days=3))["olive"].why.risk_after > 0.5


def test_what_keeps_ten_years_is_not_said_to_expire() -> None:
    slow = oil("slow", here=0, every=180, grams=100, offers=[offer("slow", pack=1000.0, price=6.0, life_days=KEEPS_DAYS)])
    why = lines(night(slow, review_days=3))["slow"].why
    assert (why.expires < 10, why.next_expires < 0.5) == (True, True)


def test_it_lasts_no_longer_than_it_keeps() -> None:
    milk = offer("milk", pack=1000.0, price=4.0, lead=LeadTime((1.0,), 3), life_days=6)
    often = oil("milk", here=0, every=30, grams=900, offers=[milk], planned=[run(3, 900)])
    assert lines(night(often))["milk"].why.lasts_days <= 10


def test_freight_is_not_saved_by_what_costs_a_surcharge_instead() -> None:
    seller = replace(MILL, freight=9, surcharge=11, free_from=220)
    lye = oil("lye", here=14_000, offers=[offer("lye", is_hazardous=True, pack=1000.0, price=8.0)])
    assert only(night(oil(here=0), lye, seller=seller)).surcharge == 0
