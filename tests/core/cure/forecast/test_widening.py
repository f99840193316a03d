"""How far a history is believed on how wide ranges must be."""

import numpy as np
import pytest

from curehouse.core.cure.forecast.calibrating import Replayed, Seen, wide_enough
from curehouse.core.cure.forecast.ranges import MOST_READY, UNREPLAYED, levels
from curehouse.core.cure.forecast.widening import Held, Houses, factors, found

HOUSES = Houses(unlearnt=1.0, usual=1.1, spread=0.06, narrowest=0.5, widest=2.0, steepest=0.45)
EIGHTY = 1.2816


def house(seed: int, *, airs: int, each: int, shared: float, by: float = 1.0) -> Held:
    """Make up cures that miss by `by` times what their ranges say, a part of it alike in all of one air."""
    rng = np.random.default_rng([41, seed])
    air, own = rng.standard_normal((airs, 1)), rng.standard_normal((airs, each))
    off = np.abs(by * (np.sqrt(shared) * air + np.sqrt(1 - shared) * own)).ravel() / EIGHTY
    keys = [f"c{n}" for n in range(len(off))]
    return Held(lambda wide: (off <= wide).astype(float), np.ones(len(off)), keys, [n // each for n in range(len(off))])


def test_the_standard_error_is_that_by_which_what_is_found_scatters_from_house_to_house() -> None:
    said = [found(house(seed, airs=12, each=12, shared=0.5), 0.8, HOUSES) for seed in range(200)]
    scatter = float(np.std([at for at, _ in said]))
    assert np.median([error for _, error in said]) == pytest.approx(scatter, rel=0.3)
    # As if each were news of its own it would be less than two thirds of that.
    alone = float(np.std([found(house(seed, airs=144, each=1, shared=0.5), 0.8, HOUSES)[0] for seed in range(200)]))
    assert alone < 0.67 * scatter


def test_cures_that_hung_in_the_same_air_widen_ranges_less_than_as_many_in_airs_of_their_own() -> None:
    alike = np.mean([factors([house(seed, airs=8, each=10, shared=0.8, by=1.4)], 0.8, HOUSES)[0] for seed in range(20)])
    apart = np.mean([factors([house(seed, airs=80, each=1, shared=0.8, by=1.4)], 0.8, HOUSES)[0] for seed in range(20)])
    assert HOUSES.usual < alike < apart - 0.02


def test_of_cures_that_all_hung_in_one_air_nobody_knows_what_is_chance() -> None:
    (one,) = factors([house(3, airs=1, each=80, shared=0.8, by=2.0)], 0.8, HOUSES)
    assert one == pytest.approx(float(np.exp(HOUSES.expected(80))), abs=1e-12)


def test_a_history_that_leaves_no_doubt_is_believed() -> None:
    (one,) = factors([house(1, airs=40_000, each=1, shared=0.0, by=1.5)], 0.8, HOUSES)
    assert one == pytest.approx(1.5, rel=0.03)


def test_a_house_of_few_cures_goes_by_what_holds_before_anything_is_learnt() -> None:
    assert factors([house(1, airs=2, each=1, shared=0.0, by=3.0)], 0.8, HOUSES)[0] == pytest.approx(1.0, abs=0.03)
    empty = Held(lambda by: np.zeros(0), np.zeros(0), [], [])
    assert factors([empty, empty], 0.8, HOUSES) == (1.0, 1.0)


def replay(number: int, came: float, *, cut_day: int | None = None) -> Replayed:
    rng = np.random.default_rng(number)
    return Replayed(
        said=rng.normal(45, 3, 150),
        came=np.full(150, came),
        weight_g=rng.normal(100, 0.5, (150, 2)),
        read_g=rng.normal(100, 0.5, 2),
        noise_g=0.05,
        seen=Seen(f"h{number}", number % 2, 2, 14, 42, ("a", "b"), cut_day),
    )


def test_no_factor_takes_in_more_draws_than_there_are() -> None:
    assert levels(MOST_READY) == levels(1.6)
    never = wide_enough([[replay(n, 126.0) for n in range(400)]] * 4)
    assert 1.0 < min(never.ready) <= max(never.ready) <= MOST_READY


def test_cures_without_a_date_count_each_for_itself_and_those_cut_together_as_one() -> None:
    dated = wide_enough([[replay(n, 126.0, cut_day=738_000) for n in range(80)]] * 4)
    undated = wide_enough([[replay(n, 126.0) for n in range(80)]] * 4)
    assert UNREPLAYED.ready[0] < dated.ready[0] < undated.ready[0]


def test_a_bar_that_nobody_weighed_later_says_nothing() -> None:
    seen = [replay(n, 45.0) for n in range(40)]
    unseen = [Replayed(o.said, o.came, o.weight_g, np.full(2, np.nan), o.noise_g, o.seen) for o in seen]
    wide = wide_enough([unseen] * 4)
    assert all(np.isfinite(one) for one in wide.weight)
