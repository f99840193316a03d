"""What a night orders: what is due, of whom, how much, with what; and the figures it gives for it."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curehouse.core.stock.lead_time import lead_time
from curehouse.core.stock.reorder.announced import share_unplanned
from curehouse.core.stock.reorder.drafted import Because, Line
from curehouse.core.stock.reorder.kept import Coming, Kept, Lot, Seller
from tests.core.stock.reorder.nights import AT_ONCE, MILL, lines, night, offer, oil, only, run


def test_nothing_is_ordered_where_there_is_enough() -> None:
    found = night(oil(here=20_000))
    assert not found.drafts
    (seen,) = found.watched
    assert not seen.is_due
    assert seen.a_day == pytest.approx(150, rel=0.1)


def test_what_may_run_out_before_a_later_order_has_come_is_ordered_and_says_why() -> None:
    line = lines(night(oil(here=2000)))["olive"]
    assert line.because is Because.DUE
    why = line.why
    assert why.risk > why.risk_accepted
    assert why.risk > why.risk_after
    assert (why.lead_half, why.lead_most) == (7, pytest.approx(9, abs=1))
    assert why.days == why.lead_most + 1
    assert 1000 < why.unplanned_half < why.unplanned_most < 6000
    assert why.here == 2000
    assert why.lasts_days == pytest.approx((2000 + line.packs * 5000) / 150, rel=0.1)
    assert line.price == line.packs * 40


def test_what_is_on_its_way_counts() -> None:
    coming = [Coming("o1", 20_000, AT_ONCE, 400)]
    assert not night(oil(here=2000, coming=coming)).drafts


def test_a_run_that_is_planned_is_counted_once() -> None:
    """With all use planned that is to be, a planned run takes the place of one that may come, and is none beside it."""
    notices = [20] * 400
    told = tuple(share_unplanned(notices))
    assert told[5] < 0.01
    planned = oil(here=3000, planned=[run(4, 1500)])
    assert not night(planned, unplanned=told).drafts
    assert night(planned).drafts
    assert night(oil(here=3000, planned=[run(4, 3001)]), unplanned=told).drafts


def test_runs_beyond_the_next_delivery_are_left_to_later_nights() -> None:
    told = tuple(share_unplanned([40] * 400))
    assert not night(oil(here=3000, planned=[run(30, 9000)]), unplanned=told).drafts
    assert night(oil(here=3000, planned=[run(9, 9000)]), unplanned=told).drafts


def test_what_expires_before_it_can_be_used_is_no_stock() -> None:
    keeps = oil(here=0, lots=[Lot("L1", 6000, 200)])
    spoils = oil(here=0, lots=[Lot("L1", 6000, 2)])
    assert not night(keeps).drafts
    assert lines(night(spoils))["olive"].why.here < 1000


def test_no_more_is_bought_than_its_life_allows() -> None:
    long, short = (
        lines(night(oil(here=0, offers=[offer(life_days=days, pack=1000.0, price=8.0)])))["olive"] for days in (700, 60)
    )
    assert long.packs > short.packs
    assert short.packs * 1000 < 60 * 150 * 1.1
    assert short.why.next_expires > long.why.next_expires


def test_a_cheaper_price_from_so_many_packs_on_is_taken_where_they_will_be_used() -> None:
    plain = lines(night(oil(here=0)))["olive"]
    broken = lines(night(oil(here=0, offers=[offer(breaks=[(plain.packs + 2, 30.0)])])))["olive"]
    assert plain.packs < broken.packs
    assert broken.price == broken.packs * 30
    seldom = oil(here=0, every=80, offers=[offer(breaks=[(plain.packs + 2, 30.0)])])
    assert lines(night(seldom))["olive"].packs < plain.packs + 2


def test_of_two_offers_the_one_that_makes_a_used_gram_cheapest_is_taken() -> None:
    offers = [offer("small", pack=1000.0, price=12.0), offer("large", pack=5000.0, price=40.0)]
    assert lines(night(oil(here=0, offers=offers)))["olive"].offer.key == "large"
    assert lines(night(oil(here=0, every=120, grams=400, offers=offers)))["olive"].offer.key == "small"


def test_what_would_soon_be_due_comes_along_and_what_would_not_does_not() -> None:
    found = lines(night(oil(here=1000), oil("coconut", here=4500), oil("castor", here=60_000)))
    assert found["coconut"].because is Because.JOINS
    assert "castor" not in found
    assert not night(oil("coconut", here=4500)).drafts


def test_a_little_more_is_bought_where_it_saves_freight_and_not_where_it_costs_more() -> None:
    dear = replace(MILL, freight=9, free_from=1)
    without = only(night(oil(here=0), seller=dear))
    line = replace(MILL, freight=9, free_from=without.goods + 30)
    saved = only(night(oil(here=0), oil("coconut", here=9000), seller=line))
    assert saved.goods >= line.free_from
    assert saved.freight == 0
    never = only(night(oil(here=0), seller=replace(MILL, freight=1, free_from=without.goods + 4000)))
    assert never.freight == 1
    assert never.goods < never.seller.free_from


def test_a_line_says_how_many_of_its_packs_are_there_for_the_freight() -> None:
    """Of what is due too: the rest of its packs would be bought in any case."""
    dear = oil(here=0, offers=[offer(pack=1000.0, price=30.0)])
    (alone,) = only(night(dear)).lines
    assert (alone.because, alone.for_freight) == (Because.DUE, 0)
    (line,) = only(night(dear, seller=replace(MILL, free_from=alone.price + 50))).lines
    assert (line.because, line.packs, line.for_freight) == (Because.DUE, alone.packs + 2, 2)
    found = lines(night(dear, oil("coconut", here=4500), seller=replace(MILL, free_from=alone.price + 50)))
    assert all(one.for_freight == 0 for one in found.values()), "what comes along in any case fills it"
    later = oil("coconut", here=14_000, offers=[offer("coconut", pack=1000.0, price=20.0)])
    found = lines(night(oil(here=0), later, seller=replace(MILL, free_from=230)))
    assert [(one.because, one.packs, one.for_freight) for one in found.values()] == [
        (Because.DUE, 4, 0), (Because.FREIGHT, 4, 4),
    ]  # fmt: skip


def test_what_keeps_too_short_for_the_seller_s_round_is_bought_in_larger_lots_than_its_share_asks_for() -> None:
    """It would call for orders of its own: fewer of them are worth a little waste."""
    much = oil("olive", here=60_000, every=2)
    short = oil("milk", here=0, grams=200, offers=[offer("milk", pack=250.0, price=5.0, life_days=100)])
    alone, beside = lines(night(short))["milk"], lines(night(short, much))["milk"]
    assert beside.packs >= 0.7 * alone.packs


def test_a_surcharge_is_asked_once_and_only_with_hazardous_goods() -> None:
    seller = replace(MILL, surcharge=11)
    lye = oil("lye", here=0, offers=[offer("lye", is_hazardous=True)])
    assert only(night(oil(here=0), seller=seller)).surcharge == 0
    assert only(night(oil(here=0), lye, oil("potash", here=0), seller=seller)).surcharge == 11


def test_a_later_receipt_changes_quantity_and_figures() -> None:
    def ordered(taken: list[float]) -> Line:
        dear = offer(lead=lead_time(taken, 7.0), pack=500.0, price=200.0)
        return lines(night(oil(here=0, offers=[dear])))["olive"]

    usual, slow = ordered([7, 7, 6]), ordered([7, 7, 40])
    assert slow.why.lead_most > usual.why.lead_most
    assert slow.why.unplanned_most > usual.why.unplanned_most
    assert slow.packs > usual.packs


def test_it_can_wait_as_long_as_the_risk_stays_near_what_is_accepted() -> None:
    soon, late = (lines(night(oil(here=1000), oil("coconut", here=here)))["coconut"].why.last_day for here in (3500, 5500))
    assert soon <= late
    assert only(night(oil(here=0), oil("coconut", here=5500))).last_day == 0


def test_what_was_never_used_and_stands_in_no_plan_is_left_alone() -> None:
    unused = Kept("pigment", [], 730, offers=[offer("pigment")])
    assert not night(unused).watched
    planned = replace(unused, planned=[run(5, 700)])
    assert lines(night(planned))["pigment"].why.planned == (run(5, 700),)


def test_what_nobody_sells_is_watched_and_not_ordered() -> None:
    found = night(oil(here=0, offers=[]))
    assert not found.drafts
    assert found.watched[0].is_due


def test_an_offer_of_nobody_known_is_refused() -> None:
    with pytest.raises(ValueError, match="say what an order there costs"):
        night(oil(), seller=Seller("dairy", 1))


@settings(max_examples=25)
@given(st.floats(0, 12_000), st.floats(1500, 9000), st.integers(1, 12))
def test_more_stock_is_never_more_risk_and_more_planned_is_never_less(here: float, grams: float, day: int) -> None:
    """Of runs of at least a usual use: a smaller one is certain of a part of what else may come or not."""

    def risk(**more: object) -> float:
        return night(oil(**more)).watched[0].risk  # type: ignore[arg-type]

    assert risk(here=here + 2000) <= risk(here=here) + 1e-9
    assert risk(here=here, planned=[run(day, grams + 1000)]) >= risk(here=here, planned=[run(day, grams)]) - 0.03
