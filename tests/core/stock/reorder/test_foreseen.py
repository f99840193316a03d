"""Use beside planned runs, added up day by day: against draws of it, and told no finer than it is known."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curehouse.core.stock.ahead import UseAhead
from curehouse.core.stock.reorder.announced import share_open, share_unplanned
from curehouse.core.stock.reorder.foreseen import use_ahead
from curehouse.core.stock.reorder.things import Planned, Use, Used
from curehouse.core.stock.reorder.unplanned import Season, learn_rate, learn_sizes, mean_rate, pooled_rate

FLAT = Season(np.ones(12), 0.0, 0, 1)
POOLED = 0.05
# No past run tells how long before its day runs are planned.
UNANNOUNCED = share_open([])


def used(days: list[int], known: int = 200, grams: float = 1000.0, planned: tuple[Planned, ...] = ()) -> Used:
    return Used("Olive oil", [Use(-day, grams) for day in days], known, planned)


def foreseen(
    known: Used, days: int = 90, season: Season = FLAT, finest: float = 0.001, announced: np.ndarray = UNANNOUNCED
) -> UseAhead:
    found = use_ahead(known, season, POOLED, days, announced=announced, finest=finest)
    assert found is not None
    return found


def test_it_is_what_draws_of_rates_uses_and_sizes_come_to() -> None:
    known = used([5, 19, 23, 60, 61, 100, 130, 150, 190])
    found, rate, sizes = foreseen(known), learn_rate(known, FLAT, POOLED), learn_sizes(known.uses)
    dice = np.random.default_rng(3)
    for day in (10, 45, 90):
        counts = dice.poisson(dice.gamma(rate.told, day / rate.days, 40_000))
        each = dice.choice(sizes.sizes, counts.sum(), p=sizes.chances)
        drawn = np.bincount(np.repeat(np.arange(len(counts)), counts), each, len(counts))
        expected = np.quantile(drawn, [0.05, 0.5, 0.95])
        assert [found.little[day - 1], found.usual[day - 1], found.much[day - 1]] == pytest.approx(expected, rel=0.05, abs=60)


def test_of_what_was_never_used_nothing_is_told() -> None:
    assert use_ahead(used([]), FLAT, POOLED, 90, announced=UNANNOUNCED, finest=0.001) is None


def test_a_new_material_has_a_wide_range_and_one_that_is_known_long_a_narrower() -> None:
    new, old = foreseen(used([3], known=10)), foreseen(used(list(range(0, 700, 10)), known=700))
    assert new.much[-1] > 3 * new.usual[-1]
    assert new.little[-1] == 0
    assert old.much[-1] < 2 * old.usual[-1]
    assert old.little[-1] > 0.35 * old.usual[-1]


def test_as_much_as_is_planned_is_not_expected_again() -> None:
    days = list(range(0, 700, 10))
    as_usual = tuple(Planned(day, 1000.0) for day in range(3, 60, 8))
    found = foreseen(used(days, known=700, planned=as_usual))
    last = as_usual[-1].day
    # Before the first of them something may still come: a run of later does not speak for sooner days.
    assert set(found.usual[:last]) == {0}
    assert len(set(found.much[as_usual[0].day - 1 : last])) == 1
    assert found.usual[-1] > 0
    half = foreseen(used(days, known=700, planned=as_usual[1::2]))
    assert 0 < half.usual[last - 1] < foreseen(used(days, known=700)).usual[last - 1]


def test_where_all_is_planned_weeks_ahead_hardly_anything_comes_unplanned_before() -> None:
    days = list(range(0, 700, 10))
    found, without = (foreseen(used(days, known=700), announced=share_unplanned(notices)) for notices in ([21] * 60, [0] * 60))
    assert found.much[20] < 0.3 * without.much[20]
    assert found.usual[20] == 0
    assert found.usual[-1] - found.usual[20] == pytest.approx(without.usual[-1] - without.usual[20], rel=0.12)


def test_a_season_moves_it_to_its_months() -> None:
    factors = np.full(12, 0.5)
    factors[1] = 6.5
    found = foreseen(used(list(range(0, 700, 10)), known=700), season=Season(factors, 0.0, 0, 1))
    in_january, in_february, in_march = found.usual[27], found.usual[57] - found.usual[29], found.usual[88] - found.usual[60]
    assert in_february > 5 * max(in_january, in_march)


def test_sooner_days_do_not_depend_on_how_far_is_looked() -> None:
    known = used([5, 19, 23, 60])
    near, far = foreseen(known), foreseen(known, days=730)
    for name in ("little", "usual", "much"):
        assert getattr(near, name) == getattr(far, name)[:90]
    mean = learn_rate(known, FLAT, POOLED).mean() * learn_sizes(known.uses).mean() * 730
    assert far.little[-1] < far.usual[-1] < mean < far.much[-1]


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(0, 199), min_size=1, max_size=30), st.floats(0.01, 20_000), st.integers(1, 400))
def test_it_only_grows_and_is_told_in_round_steps(days: list[int], grams: float, ahead: int) -> None:
    found = foreseen(used(days, grams=grams), days=ahead)
    for sums in (found.little, found.usual, found.much):
        assert len(sums) == ahead
        assert list(sums) == sorted(sums)
    for little, usual, much in zip(found.little, found.usual, found.much, strict=True):
        assert 0 <= little <= usual <= much
        assert len(f"{much:.6f}".strip("0").replace(".", "").rstrip("0")) <= 5, "no more figures than mean something"


def test_pieces_are_told_whole() -> None:
    found = foreseen(used([5, 19, 23, 60], grams=24.0), finest=1.0)
    assert all(amount == int(amount) for amount in (*found.little, *found.usual, *found.much))
    assert found.much[-1] > 0


def test_the_mean_rate_is_that_of_the_materials_one_by_one() -> None:
    season = Season(np.linspace(0.5, 1.5, 12), 0.1, 4, 12)
    items = [used(list(range(0, known, 9)), known=known) for known in (1, 90, 400, 730)]
    days = sum(float(season.at(np.arange(-item.known_days + 1, 1)).sum()) for item in items)
    uses = sum(len(item.uses) for item in items)
    assert pooled_rate(items, season) == pytest.approx(uses / days, rel=1e-12)
    assert mean_rate(0, [], season) == 0.5
