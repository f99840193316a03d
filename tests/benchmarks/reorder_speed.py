"""What a night costs: ``python -m tests.benchmarks.reorder_speed``.

Whole policies (what to order tonight, how much, why, and until when it may wait) for 1,000 materials with two years of
uses each, beside statsforecast's point forecasts of the same daily series by the three usual methods (Croston, SBA, TSB),
asked as its guide asks; in one run on one thread. Beside it what its bare loops take. And a night of a workshop with 60
materials. By time of the CPU, the least of some rounds.
"""

import sys
import time
from collections.abc import Callable

import numpy as np
import pandas as pd
from statsforecast import StatsForecast
from statsforecast.models import TSB, CrostonClassic, CrostonSBA
from threadpoolctl import threadpool_limits

from curehouse.core.stock.lead_time import lead_time
from curehouse.core.stock.reorder.announced import share_open
from curehouse.core.stock.reorder.drafted import Night
from curehouse.core.stock.reorder.kept import Kept, Lot, Offered, Seller
from curehouse.core.stock.reorder.night import look
from curehouse.core.stock.reorder.things import Costs, Planned, Use
from curehouse.core.stock.reorder.unplanned import learn_season

KNOWN_DAYS, OF_A_SELLER = 730, 6
MATERIALS, WORKSHOP = 1000, 60
MOST_TIMES, MOST_NIGHT_SECONDS = 10.0, 1.0
ROUNDS = 5


def storeroom(count: int, rng: np.random.Generator) -> tuple[list[Kept], list[Seller]]:
    """Return so many materials, used between monthly and twice a week, each with a lot and some with planned runs."""
    sellers = [Seller(f"s{i}", 5, 9, 150) for i in range(-(-count // OF_A_SELLER))]
    leads = [lead_time(rng.gamma(9, 1, 12).round().tolist(), 9.0) for _ in sellers]
    kept = []
    for i in range(count):
        a_day, grams = rng.uniform(1 / 30, 2 / 7), rng.lognormal(6, 1)
        days = np.flatnonzero(rng.random(KNOWN_DAYS) < a_day)
        kept.append(
            Kept(
                f"m{i}", [Use(-int(day), float(grams * rng.lognormal(0, 0.4))) for day in days], KNOWN_DAYS,
                [Lot("l", float(grams * a_day * rng.uniform(5, 90)), 300)], (),
                [Planned(int(day), float(grams), f"r{day}") for day in rng.integers(1, 29, rng.poisson(28 * a_day * 0.6))],
                [
                    Offered(
                        f"m{i}", f"s{i % len(sellers)}", float(grams * 4), float(rng.uniform(4, 50)), leads[i % len(leads)],
                        life_days=int(rng.integers(120, 900)),
                    )
                ],
            )
        )  # fmt: skip
    return kept, sellers


def night(kept: list[Kept], sellers: list[Seller]) -> Night:
    """Return what is found, from the past on."""
    season = learn_season(kept, first_month=5, day_of_month=12)
    return look(
        kept, sellers, season=season, unplanned=share_open([0, 5, 9, 14, 21, 28] * 40), costs=Costs(), review_days=3
    )  # fmt: skip


def series(kept: list[Kept]) -> pd.DataFrame:
    """Return what was used on each day, as it is asked for."""
    found = np.zeros((len(kept), KNOWN_DAYS))
    for of, one in zip(found, kept, strict=True):
        for use in one.uses:
            of[KNOWN_DAYS - 1 + use.day] += use.quantity
    days = pd.date_range("2024-01-01", periods=KNOWN_DAYS)
    keys = np.repeat([one.key for one in kept], KNOWN_DAYS)
    return pd.DataFrame({"unique_id": keys, "ds": np.tile(days, len(kept)), "y": found.ravel()})


def models() -> list[CrostonClassic | CrostonSBA | TSB]:
    """Return the usual methods for what is seldom used."""
    return [CrostonClassic(), CrostonSBA(), TSB(alpha_d=0.1, alpha_p=0.1)]


def bare(of: pd.DataFrame) -> None:
    """Make the forecasts with nothing around them."""
    days = of["y"].to_numpy().reshape(-1, KNOWN_DAYS)
    for model in models():
        for y in days:
            model.forecast(y=y, h=1)


def least(do: Callable[[], object]) -> float:
    """Return the CPU seconds of the quickest of some rounds."""
    do()
    took = []
    for _ in range(ROUNDS):
        began = time.process_time()
        do()
        took.append(time.process_time() - began)
    return min(took)


def main() -> None:
    """Print the figures; end with 1 where a limit is missed."""
    rng = np.random.default_rng(1)
    with threadpool_limits(1):
        kept, sellers = storeroom(MATERIALS, rng)
        of = series(kept)
        points = least(lambda: StatsForecast(models=models(), freq="D").forecast(df=of, h=21))
        loops, whole = least(lambda: bare(of)), least(lambda: night(kept, sellers))
        small = least(lambda: night(*storeroom(WORKSHOP, np.random.default_rng(2))))
    drafts = night(kept, sellers).drafts
    print(f"{MATERIALS} materials: {sum(len(one.lines) for one in drafts)} lines on {len(drafts)} orders")
    print(f"statsforecast, three point forecasts of each: {points:.2f} s, its bare loops {loops:.3f} s")
    print(
        f"whole policies: {whole:.2f} s, {whole / points:.1f} x (at most {MOST_TIMES:g}), {whole / loops:.0f} x the bare loops"
    )
    print(f"a night of {WORKSHOP} materials: {small:.3f} s (at most {MOST_NIGHT_SECONDS:g})")
    if whole > MOST_TIMES * points or small > MOST_NIGHT_SECONDS:
        sys.exit("a limit is missed")


if __name__ == "__main__":
    main()
