"""What holds of a forecast whatever was weighed."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curehouse.core.cure.forecast.batches import BarReadings, ForecastRule, RoomDay, WeighedBatch
from curehouse.core.cure.forecast.foretold import BatchForecast, foretell
from curehouse.core.cure.forecast.humidity import RoomLog, Rooms
from curehouse.core.cure.forecast.prior import cold_prior
from tests.core.cure.forecast.test_foretold import grown

STEP_G = 0.1
RULE = ForecastRule(soft_water_of_bar_pct=11.0)


@st.composite
def batches(draw: st.DrawFn) -> WeighedBatch:
    """Batches as workshops weigh them: one to six bars, gaps, bars taken away, first weighed on day 0 to 3, some slips."""
    gaps = draw(st.lists(st.integers(5, 10), min_size=1, max_size=6))
    days = np.cumsum([draw(st.integers(0, 3)), *gaps]).astype(float)
    whole = grown(
        "a",
        tuple(days.tolist()),
        share=draw(st.floats(0.5, 0.8)),
        tau=draw(st.floats(12, 40)),
        seed=draw(st.integers(0, 10_000)),
        bars=draw(st.integers(1, 6)),
    )
    bars = []
    for bar in whole.bars:
        kept = draw(st.integers(2, len(days)))
        missing = draw(st.sets(st.integers(1, len(days)), max_size=1))
        places = [i for i in range(kept) if i not in missing]
        weights = [bar.weights_g[i] * draw(st.sampled_from([1.0] * 20 + [0.1, 10.0, 1.08])) for i in places]
        bars.append(BarReadings(bar.label, tuple(bar.days[i] for i in places), tuple(weights)))
    return replace(whole, bars=tuple(bars))


def told(batch: WeighedBatch, *, step_g: float = STEP_G, rule: ForecastRule = RULE, room: Rooms | None = None) -> BatchForecast:
    return foretell([batch], cold_prior(), rule, step_g=step_g, days=(35.0, 56.0, 90.0), room=room)[0]


@settings(max_examples=40, deadline=None)
@given(batches())
def test_whatever_is_weighed_a_forecast_is_finite_and_in_order(batch: WeighedBatch) -> None:
    found = told(batch)
    ranges = [*found.water_left_pct, *(one.weight_g for one in found.new_bar), found.ready_day]
    ranges += [one for bar in found.weight_g.values() for one in bar]
    assert all(np.isfinite([one.p10, one.p50, one.p90]).all() and one.p10 <= one.p50 <= one.p90 for one in ranges)
    assert 0 <= found.soft_probability <= 1
    assert RULE.min_days <= found.ready_day.p10 and found.ready_day.p90 <= RULE.horizon_days
    assert set(found.weight_g) == {bar.label for bar in batch.bars}


@settings(max_examples=25, deadline=None)
@given(batches(), st.randoms())
def test_the_order_of_bars_is_no_matter(batch: WeighedBatch, random: object) -> None:
    bars = list(batch.bars)
    random.shuffle(bars)  # type: ignore[attr-defined]
    assert told(batch) == told(replace(batch, bars=tuple(bars)))


@settings(max_examples=25, deadline=None)
@given(batches(), st.sampled_from([1 / 28.349523125, 0.001, 7.0]))
def test_the_unit_of_mass_is_no_matter(batch: WeighedBatch, unit: float) -> None:
    bars = tuple(replace(bar, weights_g=tuple(w * unit for w in bar.weights_g)) for bar in batch.bars)
    plain, other = told(batch), told(replace(batch, bars=bars), step_g=STEP_G * unit)
    assert other.soft_probability == pytest.approx(plain.soft_probability, abs=0.01)
    for label, ranges in plain.weight_g.items():
        for one, same in zip(ranges, other.weight_g[label], strict=True):
            assert same.p50 / unit == pytest.approx(one.p50, rel=1e-5)


@settings(max_examples=25, deadline=None)
@given(batches())
def test_a_stricter_rule_is_never_met_sooner(batch: WeighedBatch) -> None:
    plain = told(batch).ready_day
    for stricter in (
        replace(RULE, weekly_loss_limit_pct=0.5),
        replace(RULE, min_days=35),
        replace(RULE, water_left_limit_pct=40.0),
    ):
        found = told(batch, rule=stricter).ready_day
        assert found.p50 >= plain.p50 and found.p90 >= plain.p90


@settings(max_examples=15, deadline=None)
@given(batches(), st.integers(0, 100))
def test_what_the_rooms_log_says_of_days_after_the_last_weighing_is_not_looked_at(batch: WeighedBatch, seed: int) -> None:
    assert batch.cut_day is not None
    rng = np.random.default_rng(seed)
    last = batch.cut_day + int(batch.last_day)
    known = [RoomDay(day, float(rng.uniform(35, 70))) for day in range(batch.cut_day - 60, last + 1)]
    later = [RoomDay(day, float(rng.uniform(5, 95))) for day in range(last + 1, last + 90)]
    assert told(batch, room={"": RoomLog(known)}) == told(batch, room={"": RoomLog([*known, *later])})


def test_the_same_batch_is_forecast_the_same_bit_by_bit() -> None:
    batch = grown("a", (0.0, 7.0, 14.0))
    assert told(batch) == told(batch)
