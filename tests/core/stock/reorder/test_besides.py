"""What is still expected beside planned runs: a plan speaks for its material and its days, and for nothing else."""

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curehouse.core.stock.reorder.announced import LEAST_RUNS, share_open
from curehouse.core.stock.reorder.besides import besides_planned
from curehouse.core.stock.reorder.foreseen import use_ahead
from curehouse.core.stock.reorder.kept import Kept
from curehouse.core.stock.reorder.position import used_by_day
from curehouse.core.stock.reorder.shop import rules_of
from curehouse.core.stock.reorder.things import Costs, Item, Planned, Use, Used
from curehouse.core.stock.reorder.unplanned import Rate, learn_rate, learn_sizes
from tests.core.stock.reorder.nights import FLAT, lines, night, oil, run

# Thirty past pours, none of which was planned.
NEVER_PLANNED = tuple(share_open([0] * 30))
SOME = st.lists(st.integers(0, 60), min_size=LEAST_RUNS).map(lambda days: tuple(share_open(days)))
NOTICES = st.one_of(st.just(()), st.just(NEVER_PLANNED), SOME)


def sunflower(**more: object) -> Kept:
    """Return a kilogram used every twenty days, and 900 g left."""
    return oil("sunflower", **{"here": 900, "every": 20, "grams": 1000, **more})  # type: ignore[arg-type]


def others(*days: int) -> list[Kept]:
    """Return olive and coconut oil, plenty of both, with runs on such days."""
    return [oil(key, here=50_000, every=20, planned=[run(day, 1000, str(day)) for day in days]) for key in ("olive", "coconut")]


def risk(*kept: Kept, unplanned: tuple[float, ...] = ()) -> float:
    """Return the risk of the first."""
    return next(one.risk for one in night(*kept, unplanned=unplanned, review_days=3).watched if one.kept.key == kept[0].key)


@pytest.mark.parametrize("unplanned", [(), NEVER_PLANNED], ids=["no notices", "thirty unplanned pours"])
@pytest.mark.parametrize("days", [(58, 60), (0, 0, 0, 0, 20), (2, 3, 4, 5, 6)], ids=["far off", "overdue", "soon"])
def test_runs_of_other_materials_do_not_stop_ordering(days: tuple[int, ...], unplanned: tuple[float, ...]) -> None:
    without = risk(sunflower(), *others(), unplanned=unplanned)
    assert without > 0.2
    assert risk(sunflower(), *others(*days), unplanned=unplanned) == pytest.approx(without, rel=1e-9)
    assert "sunflower" in lines(night(sunflower(), *others(*days), unplanned=unplanned, review_days=3))


@pytest.mark.parametrize("unplanned", [(), NEVER_PLANNED], ids=["no notices", "thirty unplanned pours"])
def test_a_material_s_own_runs_of_months_ahead_take_nothing_off_the_weeks_before(unplanned: tuple[float, ...]) -> None:
    far = [run(day, 1000, str(day)) for day in (55, 57, 58, 60)]
    assert risk(sunflower(planned=far), unplanned=unplanned) == pytest.approx(risk(sunflower(), unplanned=unplanned))
    used = sunflower().uses
    with_them, without = (
        use_ahead(Used("oil", used, 730, planned), FLAT, 0.05, 90, announced=np.array(unplanned), finest=0.001)
        for planned in (far, ())
    )
    assert with_them is not None
    assert without is not None
    assert with_them.usual[53] == without.usual[53] > 1500
    assert with_them.usual[89] < without.usual[89] or unplanned


def test_a_run_that_is_overdue_is_made_up_for_beside_what_is_usual() -> None:
    late = [run(0, 100, str(number)) for number in range(4)]
    without = risk(sunflower(here=1300))
    assert risk(sunflower(here=1300 + 400, planned=late)) == pytest.approx(without, abs=0.02)


def test_what_is_planned_of_a_material_on_a_day_is_not_expected_a_second_time() -> None:
    """With nothing that tells notices: a use is expected every ten days, and so many are planned."""

    def left(every: int, announced: tuple[float, ...] = ()) -> float:
        planned = [run(day, 1500, str(day)) for day in range(every, 200, every)] if every else []
        one = learn_sizes([Use(-day, 1500) for day in range(20)])
        return float(besides_planned(np.ones(200), np.array(announced), Rate(20, 200), one, planned)[-1])

    assert left(0) == 200
    assert left(20) == pytest.approx(110)
    assert left(10) == 10, "what may come before the first of them"
    assert left(10, NEVER_PLANNED) == 200, "thirty pours that were not planned say that more of them come"


def test_a_small_run_takes_off_no_more_than_it_uses() -> None:
    assert risk(oil(here=2000, planned=[run(day, 1, str(day)) for day in (1, 2, 3)])) == pytest.approx(
        risk(oil(here=2000)), abs=0.03
    )


def test_few_past_runs_tell_no_notice() -> None:
    assert len(share_open([14] * (LEAST_RUNS - 1), others=40)) == 0
    assert share_open([14] * LEAST_RUNS)[10] < 0.2 < share_open([14] * LEAST_RUNS, others=LEAST_RUNS)[10]


RUNS = st.lists(st.tuples(st.integers(0, 120), st.floats(1, 9000)), max_size=8)


@settings(max_examples=30)
@given(NOTICES, RUNS, RUNS)
def test_runs_of_other_materials_never_change_a_material_s_risk(
    unplanned: tuple[float, ...], own: list[tuple[int, float]], runs: list[tuple[int, float]]
) -> None:
    mine = sunflower(planned=[run(day, grams) for day, grams in own])
    planned = [run(day, grams) for day, grams in runs]
    told = [risk(mine, oil("olive", here=50_000, planned=plan), unplanned=unplanned) for plan in ((), planned)]
    assert told[0] == pytest.approx(told[1], abs=1e-12)


@settings(max_examples=60)
@given(NOTICES, RUNS, st.integers(0, 120), st.floats(1, 9000))
def test_one_more_run_never_lowers_what_is_used_in_all(
    unplanned: tuple[float, ...], own: list[tuple[int, float]], day: int, grams: float
) -> None:
    def in_all(planned: list[Planned]) -> np.ndarray:
        mine = sunflower(planned=planned)
        rate, sizes = learn_rate(mine, FLAT, 0.05), learn_sizes(mine.uses)
        left = besides_planned(np.ones(200), np.array(unplanned), rate, sizes, planned)
        assert left[0] == 0
        assert (np.diff(left) >= 0).all()
        return used_by_day(mine, rate.mean() * sizes.mean() * np.diff(left))

    before = [run(day, grams) for day, grams in own]
    assert (in_all([*before, run(day, grams)]) >= in_all(before) - 1e-6).all()


def test_levels_of_files_do_not_hear_of_other_materials_plans() -> None:
    def bought(name: str, every: int, *days: int) -> Item:
        uses = [Use(-day, 1000.0) for day in range(1, 730, every)]
        planned = [Planned(day, 1000.0) for day in days]
        return Item(name, uses, 730, (6, 7, 8), 7.0, 5000.0, 1, 400, 0.01, 12.0, planned)

    def levels(*items: Item) -> Sequence[float]:
        return rules_of(items, month=3, day_of_month=10, costs=Costs())["sunflower"].levels

    alone = levels(bought("sunflower", 20), bought("olive", 20))
    assert levels(bought("sunflower", 20), bought("olive", 20, 0, 0, 0, 3, 5, 9, 12, 40)) == alone
    assert sum(levels(bought("sunflower", 20, *range(2, 60, 4)), bought("olive", 20))) < sum(alone)
