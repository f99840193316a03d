"""The posterior against a sampler that shares no code with it: an ensemble of walkers (Goodman and Weare, 2010)."""

from dataclasses import dataclass

import numpy as np
import pytest

from curehouse.core.cure.forecast.batches import ForecastRule, WeighedBatch
from curehouse.core.cure.forecast.foretold import foretell
from curehouse.core.cure.forecast.packing import packed
from curehouse.core.cure.forecast.prior import Floats, cold_prior
from tests.core.cure.forecast.test_foretold import STEP_G, WATER, grown

ASKED = 56.0
WALKERS, STEPS, BURN = 240, 2400, 900
PRIOR = cold_prior()


@dataclass(frozen=True)
class Posterior:
    """The model written down plainly for one batch weighed by all its bars on some days, the cut among them."""

    days: Floats
    weights: Floats
    scale: Floats
    size: Floats

    def parts(self, x: Floats) -> tuple[Floats, ...]:
        bars, sessions = self.weights.shape
        ends = np.cumsum([3, bars, bars, bars, sessions, sessions])
        return tuple(np.split(x, ends[:-1], axis=1))

    def weight(self, x: Floats, day: float, damp: Floats, drift: Floats | float = 0.0) -> Floats:
        curve, amount, clock, start, _, _ = self.parts(x)
        power = (day / np.exp(curve[:, 1:2] + clock)) ** np.exp(curve[:, 2:3])
        lost = WATER * np.exp(curve[:, :1] + amount) * (1 - np.exp(-power))
        return 1 + start - lost - damp - drift

    def log_density(self, x: Floats) -> Floats:
        curve, amount, clock, start, damp, drift = self.parts(x)
        mean, cov = np.array(PRIOR.coefficients).reshape(3, 5)[:, 0], np.array(PRIOR.batch_cov).reshape(3, 3)
        spread = np.array(PRIOR.coefficient_cov).reshape(3, 5, 3, 5)
        cov = cov + spread[:, 0, :, 0] + np.diag(np.square(PRIOR.formula_sd))
        # The season of 1 March, as the batch has it.
        angle = 2 * np.pi * 59.0 / 365.25
        row = np.array([1.0, WATER - 0.2, np.cos(angle), np.sin(angle), 0.0])
        cov = np.einsum("apbq,p,q->ab", spread, row, row) + np.array(PRIOR.batch_cov).reshape(3, 3)
        cov = cov + np.diag(np.square(PRIOR.formula_sd))
        far = np.einsum("na,ab,nb->n", curve - mean, np.linalg.inv(cov), curve - mean)
        scale = PRIOR.odd_scale
        out = np.log((1 - PRIOR.odd_share) * np.exp(-far / 2) + PRIOR.odd_share * np.exp(-far / 2 / scale**2) / scale**3)
        own = start - (self.size - 1)
        out -= (amount**2 / PRIOR.bar_sd[0] ** 2 + clock**2 / PRIOR.bar_sd[1] ** 2 + own**2 / PRIOR.size_sd**2).sum(axis=1) / 2
        # `damp` holds the days after the cut, and the day that is asked for.
        when = np.append(self.days[1:], ASKED)
        room = PRIOR.room_sd**2 * spell(when)
        out -= np.einsum("na,ab,nb->n", damp, np.linalg.inv(room), damp) / 2
        tail = PRIOR.tail
        out -= (tail + 1) / 2 * np.log1p((drift / PRIOR.session_sd) ** 2 / tail).sum(axis=1)
        noise = np.sqrt(PRIOR.reading_sd**2 + (STEP_G / self.scale) ** 2 / 12)
        at = np.concatenate([np.zeros((len(x), 1)), damp[:, :-1]], axis=1)
        for d, day in enumerate(self.days):
            off = self.weights[:, d] / self.scale - self.weight(x, day, at[:, d : d + 1], drift[:, d : d + 1])
            out -= (tail + 1) / 2 * np.log1p((off / noise) ** 2 / tail).sum(axis=1)
        return out

    def sampled(self, rng: np.random.Generator) -> Floats:
        bars, sessions = self.weights.shape
        sds = np.concatenate(
            [[0.1, 0.3, 0.1], *[np.full(bars, sd) for sd in (0.02, 0.08, 0.002)], np.full(2 * sessions, 0.002)]
        )
        x = sds * rng.standard_normal((WALKERS, len(sds)))
        x[:, :3] = np.array(PRIOR.coefficients).reshape(3, 5)[:, 0] + x[:, :3] * 0.3
        density = self.log_density(x)
        half, kept = WALKERS // 2, []
        for step in range(STEPS):
            for mine, theirs in ((slice(0, half), slice(half, None)), (slice(half, None), slice(0, half))):
                stretch = ((rng.random(half) + 1) ** 2 / 2)[:, None]
                other = x[theirs][rng.integers(half, size=half)]
                tried = other + stretch * (x[mine] - other)
                tried_density = self.log_density(tried)
                gain = (x.shape[1] - 1) * np.log(stretch[:, 0]) + tried_density - density[mine]
                takes = np.log(rng.random(half)) < gain
                x[mine] = np.where(takes[:, None], tried, x[mine])
                density[mine] = np.where(takes, tried_density, density[mine])
            if step >= BURN and step % 10 == 0:
                kept.append(x.copy())
        return np.concatenate(kept)


def spell(days: Floats) -> Floats:
    """Covariance of the room's damp, nought at the cut: Matern 3/2 over 12 and 30 days, and an exponential over 8."""

    def stationary(apart: Floats) -> Floats:
        out = np.zeros_like(apart)
        for share, length in ((1.0, 12.0), (PRIOR.mix[0], 30.0)):
            scaled = np.sqrt(3) * np.abs(apart) / length
            out += share * (1 + scaled) * np.exp(-scaled)
        out += PRIOR.mix[1] * np.exp(-np.abs(apart) / 8.0)
        return out

    out: Floats = stationary(days[:, None] - days) - stationary(days)[:, None] * stationary(days) / (1 + sum(PRIOR.mix))
    return out


CASES: dict[str, WeighedBatch] = {
    "one week": grown("a", (0.0, 7.0), bars=3, seed=3),
    "two weeks, slow": grown("b", (0.0, 7.0, 14.0), bars=3, seed=4, tau=26.0),
    "two weeks, fast": grown("c", (0.0, 6.0, 15.0), bars=3, seed=5, tau=14.0, share=0.72),
    "four weeks": grown("d", (0.0, 7.0, 14.0, 21.0, 28.0), bars=2, seed=6),
    "wet": grown("e", (0.0, 8.0, 13.0), bars=3, seed=7, share=0.85),
}


@pytest.mark.parametrize("case", CASES)
def test_ranges_are_those_a_sampler_finds(case: str) -> None:
    batch = CASES[case]
    days = np.array(batch.bars[0].days)
    ((group, _),) = packed([batch], PRIOR)
    posterior = Posterior(days, np.array([bar.weights_g for bar in batch.bars]), group.scale_g[0], group.size[0])
    found = posterior.sampled(np.random.default_rng(11))
    damp = posterior.parts(found)[4][:, -1:]
    weights = posterior.scale * posterior.weight(found, ASKED, damp)
    said = foretell([batch], PRIOR, ForecastRule(), step_g=STEP_G, days=(ASKED,), draws=2000)[0]
    for j, bar in enumerate(batch.bars):
        low, middle, high = np.quantile(weights[:, j], (0.1, 0.5, 0.9))
        ours = said.weight_g[bar.label][0]
        width = high - low
        assert abs(ours.p50 - middle) < 0.12 * width
        assert abs(ours.p10 - low) < 0.2 * width
        assert abs(ours.p90 - high) < 0.2 * width
