"""What other batches in the room say of its damp."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from curehouse.core.cure.forecast.batches import BarReadings, ForecastRule, WeighedBatch
from curehouse.core.cure.forecast.beside import Beside, _joined, _Message, _Said
from curehouse.core.cure.forecast.damp import room_cov, spell_cov
from curehouse.core.cure.forecast.foretold import BatchForecast, foretell
from curehouse.core.cure.forecast.packing import packed
from curehouse.core.cure.forecast.prior import cold_prior
from tests.core.cure.forecast.test_foretold import STEP_G, grown

BEGUN = date(2026, 1, 5).toordinal()
WEEKS = tuple(7.0 * i for i in range(7))


def damp(day: np.ndarray) -> np.ndarray:
    """A humid spell of the room, as a share of the weight, around its 60th day."""
    return 0.006 * np.exp(-(((day - 60) / 9) ** 2))


def in_the_room(key: str, cut: int, days: tuple[float, ...] = WEEKS, seed: int = 1) -> WeighedBatch:
    dry = grown(key, days, seed=seed, tau=22.0)
    gained = damp(cut + np.array(days)) - damp(np.array([float(cut)]))
    bars = tuple(
        replace(bar, weights_g=tuple(np.round(np.array(bar.weights_g) + bar.weights_g[0] * gained, 1).tolist()))
        for bar in dry.bars
    )
    return replace(dry, bars=bars, cut_day=BEGUN + cut)


ROOM = [in_the_room(f"r{i:02d}", 5 * i, seed=i) for i in range(14)]


def told(batch: WeighedBatch, beside: list[WeighedBatch]) -> BatchForecast:
    return foretell([batch], cold_prior(), ForecastRule(), step_g=STEP_G, days=(56.0,), beside=beside)[0]


def early(batch: WeighedBatch, sessions: int) -> WeighedBatch:
    bars = tuple(BarReadings(bar.label, bar.days[:sessions], bar.weights_g[:sessions]) for bar in batch.bars)
    return replace(batch, bars=bars)


def test_a_humid_spell_that_all_batches_show_is_told_from_slow_drying() -> None:
    # Weighed at the cut and in the spell; what it weighs weeks after is past it.
    misses: dict[bool, list[float]] = {True: [], False: []}
    for seed in range(8):
        whole = in_the_room("a", 39, (0.0, 7.0, 14.0, 21.0, 56.0), seed=100 + seed)
        for heard, into in misses.items():
            found = told(early(whole, 4), ROOM if heard else [])
            into += [found.weight_g[bar.label][0].p50 - bar.weights_g[-1] for bar in whole.bars]
    assert abs(np.mean(misses[True])) < abs(np.mean(misses[False]))


def test_what_is_heard_tells_of_the_damp_in_a_batchs_own_sessions() -> None:
    batch = early(in_the_room("a", 39, seed=100), 4)
    ((group, _),) = packed([batch], cold_prior())
    heard = Beside(ROOM, [batch], cold_prior(), step_g=STEP_G).spells(group)
    alone = Beside([batch], [batch], cold_prior(), step_g=STEP_G).spells(group)
    sds, plain = (np.sqrt(np.maximum(np.diagonal(one.cov[0]), 0.0)) for one in (heard, alone))
    assert (sds <= plain + 1e-12).all()
    assert (sds[2:4] < 0.75 * plain[2:4]).all()
    assert not alone.mean.any()
    # What bars gain lies below nought: it is taken from what they have lost.
    days = 39 + np.array([0.0, 7.0, 14.0, 21.0])
    gained = damp(days) - damp(np.array([39.0]))
    assert heard.mean[0, 2:4] == pytest.approx(-gained[2:4], rel=0.5)


def test_nothing_weighed_after_its_own_last_day_is_heard() -> None:
    batch = early(in_the_room("a", 39, seed=100), 3)
    until = BEGUN + 39 + 14
    known = []
    for other in ROOM:
        assert other.cut_day is not None
        sessions = sum(other.cut_day + day <= until for day in other.bars[0].days)
        if sessions:
            known.append(early(other, sessions))
    whole, cut_off = told(batch, ROOM), told(batch, known)
    assert whole.ready_day == cut_off.ready_day
    assert whole.weight_g["b0"][0].p90 == pytest.approx(cut_off.weight_g["b0"][0].p90, rel=1e-9)


def test_what_hangs_in_another_room_is_not_heard() -> None:
    batch = early(in_the_room("a", 39, seed=100), 4)
    loft = [replace(other, key=f"l{other.key}", room="loft") for other in ROOM]
    assert told(batch, [*ROOM, *loft]) == told(batch, ROOM)
    assert told(batch, loft) == told(batch, [batch])
    assert told(replace(batch, room="loft"), [*ROOM, *loft]) == told(batch, ROOM)


def test_it_does_not_listen_to_itself() -> None:
    batch = early(in_the_room("a", 39, seed=100), 4)
    assert told(batch, [batch]) == told(batch, [replace(batch, key="b", cut_day=None), batch])


def test_for_one_batch_the_rooms_damp_is_the_batchs_own() -> None:
    days = np.array([0, 3, 7, 30])
    cut = np.full(4, BEGUN)
    for mix in ((2.0, 1.0), (0.5, 3.0)):
        joint = spell_cov(cut, cut + days, cut, cut + days, mix)
        assert joint == pytest.approx(room_cov(days.astype(float), days.astype(float), mix), abs=1e-12)


def test_what_is_joined_by_the_air_is_what_the_batches_paths_together_say() -> None:
    """Held against Gaussian conditioning on the batches' own paths, each weighing for itself."""
    rng, mix, sd = np.random.default_rng(4), (0.7, 1.3), 0.002
    days = np.array([0, 6, 13, 21])
    cuts, known = [700_000, 700_000, 700_009], [4, 2, 3]
    said = []
    for count in known:
        root = rng.normal(0, 400, (count, count))
        said.append((root @ root.T, rng.normal(0, 900, count)))
    cut, asked = 700_005, 700_005 + np.array([0, 4, 11, 40])
    messages = {
        (number, count): _Message.of(one, days[:count], precision, pull, logged=False, mix=mix)
        for number, (one, count, (precision, pull)) in enumerate(zip(cuts, known, said, strict=True))
    }
    heard = _Said(messages)
    mean, cov = _joined(heard, heard.rows(list(messages)), cut, asked, sd=sd, mix=mix)
    own_cuts, their_cuts = np.full(len(asked), cut), np.repeat(cuts, known)
    their_days = np.concatenate([one + days[:count] for one, count in zip(cuts, known, strict=True)])
    among = sd**2 * spell_cov(their_cuts, their_days, their_cuts, their_days, mix)
    across = sd**2 * spell_cov(own_cuts, asked, their_cuts, their_days, mix)
    precision = np.zeros_like(among)
    for number, (block, _pull) in enumerate(said):
        at = slice(sum(known[:number]), sum(known[: number + 1]))
        precision[at, at] = block
    solved = np.linalg.solve(np.eye(len(among)) + precision @ among, np.column_stack([np.concatenate([p for _, p in said])]))
    through = np.linalg.solve(np.eye(len(among)) + precision @ among, precision @ across.T)
    assert np.allclose(mean, (across @ solved)[:, 0], rtol=1e-8, atol=1e-12)
    expected = sd**2 * spell_cov(own_cuts, asked, own_cuts, asked, mix) - across @ through
    assert np.allclose(cov, expected, rtol=1e-8, atol=1e-14)
    assert np.abs(mean[1:]).min() > 1e-5
