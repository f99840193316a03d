"""A bar that was never weighed, ranges set by replay, and what a forecast may know."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from curehouse.core.cure.forecast.batches import BarReadings, ForecastRule, WeighedBatch
from curehouse.core.cure.forecast.calibrating import Replayed, Seen, calibrated, replayed, wide_enough
from curehouse.core.cure.forecast.foretold import BatchForecast, foretell
from curehouse.core.cure.forecast.in_order import taught_in_order
from curehouse.core.cure.forecast.learning import learn
from curehouse.core.cure.forecast.prior import cold_prior
from curehouse.core.cure.forecast.ranges import USUAL_READY, Calibration
from tests.core.cure.forecast.test_foretold import STEP_G, grown

RULE = ForecastRule()
WEEKS = tuple(7.0 * i for i in range(10))


def spread_out(seed: int, days: tuple[float, ...] = WEEKS, key: str = "h") -> WeighedBatch:
    """Grow a batch whose drying differs from batch to batch."""
    rng = np.random.default_rng(1000 + seed)
    share, tau = 0.68 * np.exp(rng.normal(0, 0.09)), 19 * np.exp(rng.normal(0, 0.25))
    return grown(f"{key}{seed:03d}", days, share=share, tau=tau, seed=seed)


def test_a_bar_that_was_not_weighed_is_known_less_well_than_those_that_were() -> None:
    found = foretell([grown("a", (0, 7, 14))], cold_prior(), RULE, step_g=STEP_G, days=(28.0, 56.0))[0]
    widest = max(ranges[1].p90 - ranges[1].p10 for ranges in found.weight_g.values())
    new = found.new_bar[1]
    assert new.day == 56.0
    assert new.weight_g.p90 - new.weight_g.p10 > 1.5 * widest
    assert min(r[1].p50 for r in found.weight_g.values()) < new.weight_g.p50 < max(r[1].p50 for r in found.weight_g.values())


def test_new_bars_of_batches_weigh_what_is_foretold_of_them() -> None:
    held, mean_held, total = 0, 0, 0
    for seed in range(40):
        whole = spread_out(seed)
        rng = np.random.default_rng(7000 + seed)
        bars = 12
        many = grown(whole.key, (0.0, 56.0), share=_share(whole), tau=_tau(whole), seed=int(rng.integers(1e6)), bars=bars)
        early = replace(whole, bars=tuple(replace(b, days=b.days[:3], weights_g=b.weights_g[:3]) for b in whole.bars))
        new = foretell([early], cold_prior(), RULE, step_g=STEP_G, days=(56.0,))[0].new_bar[0]
        came = [bar.weights_g[-1] for bar in many.bars]
        held += sum(new.weight_g.p10 <= one <= new.weight_g.p90 for one in came)
        mean_held += abs(float(np.mean(came)) - new.mean_g) < 1.2816 * np.hypot(new.mean_sd_g, new.bar_sd_g / np.sqrt(bars))
        total += bars
    assert 0.7 < held / total < 0.95
    assert mean_held >= 0.65 * 40


def _share(batch: WeighedBatch) -> float:
    return 0.68 * float(np.exp(np.random.default_rng(1000 + int(batch.key[1:])).normal(0, 0.09)))


def _tau(batch: WeighedBatch) -> float:
    rng = np.random.default_rng(1000 + int(batch.key[1:]))
    rng.normal(0, 0.09)
    return 19 * float(np.exp(rng.normal(0, 0.25)))


def test_replaying_says_how_wide_ranges_must_be() -> None:
    finished = [spread_out(seed) for seed in range(40)]
    learnt = calibrated(finished, cold_prior(), RULE, step_g=STEP_G)
    assert learnt.replayed > 30
    assert len(learnt.ready) == len(learnt.weight) == 4
    assert all(0.7 < one < 1.6 for one in (*learnt.ready, *learnt.weight))
    assert Calibration.from_plain(learnt.as_plain()) == learnt
    # The order the batches come in is no matter.
    assert calibrated(finished[::-1], cold_prior(), RULE, step_g=STEP_G) == learnt


def test_what_one_number_of_weighings_says_of_the_ranges_is_drawn_towards_what_all_say() -> None:
    """Of forty cures that were all the same, one number of weighings would want ranges twice as wide as the others."""
    rng = np.random.default_rng(3)

    def replays(off_by: float) -> list[Replayed]:
        return [
            Replayed(
                said=rng.normal(40, 4, 150),
                came=rng.normal(40, 4, 150),
                weight_g=rng.normal(100, 0.5, (150, 2)),
                read_g=rng.normal(100, 0.5 * off_by, 2),
                noise_g=0.05,
                seen=Seen(f"h{n}", n % 2, 2, 14, 42, ("a", "b")),
            )
            for n in range(40)
        ]

    even, odd = wide_enough([replays(1.0) for _ in range(4)]), wide_enough([replays(2.0), *(replays(1.0) for _ in range(3))])
    assert max(odd.weight) == odd.weight[0] < 1.4
    assert all(one > before for one, before in zip(odd.weight[1:], even.weight[1:], strict=True))
    assert max(even.weight) < 1.1 * min(even.weight)


def test_readings_are_allowed_to_scatter_as_they_do() -> None:
    """Readings and sessions scatter by Student's t, and a scale rounds: 80 % of readings lie within what is allowed for."""
    finished, step_g = [spread_out(seed) for seed in range(12)], 0.1
    one = next(one for one in replayed(finished, cold_prior(), RULE, step_g=step_g)[0] if one.seen.half == 0)
    taught = learn(finished[1::2], step_g=step_g, start=cold_prior())
    grams, chance = float(np.nanmedian(one.read_g)), np.random.default_rng(11)
    session, reading = (chance.standard_t(taught.tail, 200_000) * sd * grams for sd in (taught.session_sd, taught.reading_sd))
    off = np.abs(session + reading + chance.uniform(-step_g / 2, step_g / 2, 200_000))
    assert one.noise_g == pytest.approx(np.quantile(off, 0.8), rel=0.06)


def test_a_number_of_weighings_that_no_cure_was_replayed_after_goes_by_the_others() -> None:
    finished = [spread_out(seed) for seed in range(2)]
    learnt = calibrated(finished, cold_prior(), RULE, step_g=STEP_G)
    assert learnt.replayed == 2
    assert learnt.ready[1] == learnt.ready[3] == pytest.approx(learnt.ready[0], rel=0.02)


def test_without_a_history_nothing_is_widened() -> None:
    assert calibrated([], cold_prior(), RULE, step_g=STEP_G) == Calibration((USUAL_READY,) * 4, (1.0,) * 4)


def test_a_wider_calibration_widens_around_the_same_middle() -> None:
    batch = grown("a", (0, 7, 14))
    plain, wide = (
        foretell([batch], cold_prior(), RULE, step_g=STEP_G, days=(56.0,), calibration=by)[0]
        for by in (None, Calibration((1.1,), (1.5,)))
    )
    before, after = plain.weight_g["b0"][0], wide.weight_g["b0"][0]
    assert after.p50 == before.p50
    assert after.p90 - after.p50 == pytest.approx(1.5 * (before.p90 - before.p50))
    assert wide.ready_day.p90 - wide.ready_day.p10 > plain.ready_day.p90 - plain.ready_day.p10


def told(history: list[WeighedBatch], current: list[WeighedBatch]) -> dict[str, BatchForecast]:
    out = {}
    for taught in taught_in_order(history, current, step_g=STEP_G):
        for one in foretell([current[i] for i in taught.places], taught.prior, RULE, step_g=STEP_G, days=(56.0,)):
            out[one.key] = one
    return out


def test_nothing_that_was_weighed_later_than_a_batch_enters_its_forecast() -> None:
    begun = date(2026, 1, 1).toordinal()
    current = [replace(spread_out(i, WEEKS[:5], "c"), cut_day=begun + 3 * i) for i in range(60)]
    asked = current[30]
    until = asked.cut_day + asked.last_day
    known = []
    for batch in current:
        bars = [(bar, sum(batch.cut_day + day <= until for day in bar.days)) for bar in batch.bars]
        kept = tuple(BarReadings(bar.label, bar.days[:n], bar.weights_g[:n]) for bar, n in bars)
        if any(bar.days for bar in kept):
            known.append(replace(batch, bars=kept))
    later, then = told([], current)[asked.key], told([], known)[asked.key]
    assert later.ready_day == then.ready_day
    for label, (one,) in then.weight_g.items():
        assert later.weight_g[label][0].p90 == pytest.approx(one.p90, rel=1e-9)


def test_what_other_batches_in_cure_show_is_used() -> None:
    begun = date(2026, 1, 1).toordinal()
    current = [replace(grown(f"c{i:02d}", WEEKS[:6], tau=40, seed=i), cut_day=begun + 3 * i) for i in range(40)]
    last = current[-1]
    early = replace(last, bars=tuple(replace(bar, days=bar.days[:3], weights_g=bar.weights_g[:3]) for bar in last.bars))
    beside, alone = told([], [*current[:-1], early])[last.key], told([], [early])[last.key]
    assert beside.ready_day.p90 - beside.ready_day.p10 < alone.ready_day.p90 - alone.ready_day.p10


def test_a_prior_is_learnt_the_same_from_any_order() -> None:
    finished = [spread_out(seed) for seed in range(12)]
    assert learn(finished, step_g=STEP_G) == learn(finished[::-1], step_g=STEP_G)
