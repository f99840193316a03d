"""Rates, seasons, growth and sizes of uses nobody has planned: what is learnt, and how far it is believed."""

import numpy as np
import pytest

from curehouse.core.stock.reorder.things import Item, Planned, Use
from curehouse.core.stock.reorder.unplanned import Season, learn_rate, learn_season, learn_sizes, pooled_rate

FLAT = Season(np.ones(12), 0.0, 0, 1)


def item(days: list[int], known: int = 730, name: str = "Olive oil", planned: list[Planned] | None = None) -> Item:
    uses = [Use(day, 1000.0) for day in days]
    return Item(name, uses, known, (), 8.0, 1000.0, 1, 365, 0.01, 12.0, planned or ())


def test_a_rate_is_that_of_the_past_where_there_is_much_of_it() -> None:
    steady = item(list(range(-725, 1, 5)))
    rate = learn_rate(steady, FLAT, 0.2)
    assert rate.mean() == pytest.approx(0.2, rel=0.03)


def test_a_rate_leans_on_the_shop_where_the_material_is_new_and_says_how_little_it_knows() -> None:
    new = learn_rate(item([-40, -20, -3], known=60), FLAT, 0.05)
    assert 3 / 60 * 0.9 < new.mean() < 3 / 60 * 1.3
    assert new.told < 4 < learn_rate(item(list(range(-725, 1, 5))), FLAT, 0.05).told
    assert learn_rate(item([], known=60), FLAT, 0.05).mean() < 0.05


def test_what_was_used_lately_tells_more() -> None:
    assert (
        learn_rate(item(list(range(-200, 1, 10))), FLAT, 0.05).mean()
        > learn_rate(item(list(range(-700, -499, 10))), FLAT, 0.05).mean()
    )


def test_a_season_is_heard_where_it_is_plain_and_not_where_it_may_be_chance() -> None:
    rng = np.random.default_rng(3)
    days = np.arange(-729, 1)
    calm = Season(np.ones(12), 0.0, 11, 31)
    month = calm.months(days)
    busy = [int(day) for day, one in zip(days, month, strict=True) for _ in range(rng.poisson(1.2 if one in (8, 9) else 0.3))]
    learnt = learn_season([item(busy)], first_month=11, day_of_month=31)
    assert learnt.factors[[8, 9]].min() > 1.4
    assert learnt.factors.mean() == pytest.approx(1)
    even = [int(day) for day in days for _ in range(rng.poisson(0.3))]
    assert learn_season([item(even)], first_month=11, day_of_month=31).factors == pytest.approx(np.ones(12), abs=0.2)


def test_growth_is_told_by_two_years_and_by_enough_uses() -> None:
    grown = doubling_each_year(until=0)
    assert learn_season([item(grown)], first_month=11, day_of_month=31).growth == pytest.approx(np.log(2), rel=0.15)
    few = [-700, -500, -300, -200, -100]
    assert learn_season([item(few)], first_month=11, day_of_month=31).growth == 0
    assert learn_season([item(grown, known=200)], first_month=11, day_of_month=31).growth == 0


def doubling_each_year(*, until: int) -> list[int]:
    """Return the days of two years on which something is used twice as often each year, up to a day, and even from then on."""
    often = np.cumsum(2.0 ** (np.minimum(np.arange(-729, 1), until) / 365))
    return [int(day) for day in np.searchsorted(often, np.arange(0.5, often[-1])) - 729]


@pytest.mark.parametrize("until", [-182, -365])
def test_growth_that_has_stopped_is_not_believed_for_a_year_longer(until: int) -> None:
    going_on = learn_season([item(doubling_each_year(until=0))], first_month=11, day_of_month=31)
    stopped = learn_season([item(doubling_each_year(until=until))], first_month=11, day_of_month=31)
    assert 0 <= stopped.growth < 0.65 * going_on.growth


def test_growth_of_the_newest_half_year_is_never_taken_for_more_than_the_year_shows() -> None:
    days = np.arange(-729, 1)
    often = np.cumsum(np.where(days < -182, 0.3, 0.6))
    lately = [int(day) for day in np.searchsorted(often, np.arange(0.5, often[-1])) - 729]
    year = float(np.log(sum(day > -365 for day in lately) / sum(-730 < day <= -365 for day in lately)))
    assert 0 < learn_season([item(lately)], first_month=11, day_of_month=31).growth <= year


def test_growth_is_heard_before_two_years_are_known_and_a_season_is_not_taken_for_it() -> None:
    grown = [*range(-548, -365, 2), *range(-364, -183, 2), *range(-182, 1)]
    assert learn_season([item(grown, known=549)], first_month=11, day_of_month=31).growth == pytest.approx(np.log(2), rel=0.15)
    # Each year twice as much in its second half as in its first.
    turns = [*range(-548, -365), *range(-364, -183, 2), *range(-182, 1)]
    assert learn_season([item(turns, known=549)], first_month=11, day_of_month=31).growth == 0
    assert learn_season([item(grown, known=400)], first_month=11, day_of_month=31).growth == 0


def test_growth_goes_on_ever_more_slowly_and_what_was_is_left_as_it_was() -> None:
    season = Season(np.ones(12), float(np.log(2)), 0, 1)
    at = season.at(np.array([-365, 0, 30, 365, 3650]))
    assert at[0] == pytest.approx(0.5)
    assert at[1] == 1
    assert at[2] == pytest.approx(2 ** (30 / 365), rel=0.01)
    assert 1.3 < at[3] < at[4] < 1.5


def test_few_sizes_are_spread_wider_than_many() -> None:
    few, many = (learn_sizes([Use(-day, 1000.0) for day in range(count)]) for count in (3, 30))
    assert few.mean() == pytest.approx(1000, rel=0.1)
    assert many.mean() == pytest.approx(1000)
    assert few.sizes.max() > many.sizes.max()
    with pytest.raises(ValueError, match="say how much one batch takes"):
        learn_sizes([])


def test_the_shop_s_rate_is_that_of_a_material_in_the_mean() -> None:
    assert pooled_rate([item(list(range(-729, 1, 10))), item(list(range(-729, 1, 30)))], FLAT) == pytest.approx(
        (73 + 25) / 1460
    )
