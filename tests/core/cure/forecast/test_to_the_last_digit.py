"""The same weighings give the same figures, bit for bit: alone, among others, in another order, in another process."""

import os
import subprocess
import sys
from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import pytest

from curehouse.core.cure.forecast.batches import ForecastRule, RoomDay, WeighedBatch
from curehouse.core.cure.forecast.doubtful import doubtful
from curehouse.core.cure.forecast.foretold import BatchForecast, foretell
from curehouse.core.cure.forecast.humidity import RoomLog, Rooms
from curehouse.core.cure.forecast.learning import learn
from curehouse.core.cure.forecast.prior import Prior
from tests.core.cure.forecast.test_foretold import STEP_G, grown

BEGUN = date(2026, 1, 5).toordinal()
RULE = ForecastRule(soft_water_of_bar_pct=11.0)
LOG = RoomLog([RoomDay(BEGUN - 100 + i, 55 + 10 * float(np.sin(i / 9))) for i in range(400)])


@cache
def house() -> tuple[Prior, tuple[WeighedBatch, ...]]:
    """Return what a history teaches, and 60 batches of one to five bars and two to six weighings."""
    rng = np.random.default_rng(0)
    finished = [
        replace(
            grown(f"h{i}", tuple(7.0 * w for w in range(9)), tau=float(rng.uniform(14, 35)), seed=500 + i),
            formula=f"F{i % 7}",
            cut_day=BEGUN - 100 + 3 * i,
        )
        for i in range(24)
    ]
    current = []
    for i in range(60):
        days = np.cumsum([0, *rng.integers(5, 10, int(rng.integers(1, 6)))]).astype(float)
        whole = grown(f"c{i:02d}", tuple(days.tolist()), tau=float(rng.uniform(14, 35)), seed=i, bars=int(rng.integers(1, 6)))
        current.append(replace(whole, formula=f"F{i % 9}", cut_day=BEGUN + 2 * i))
    return learn(finished, step_g=STEP_G), tuple(current)


def told(
    batches: list[WeighedBatch], *, room: Rooms | None = None, beside: tuple[WeighedBatch, ...] = ()
) -> dict[str, BatchForecast]:
    found = foretell(batches, house()[0], RULE, step_g=STEP_G, days=(35.0, 56.0), room=room, beside=beside)
    return {one.key: one for one in found}


@pytest.mark.parametrize("listens", [False, True])
@pytest.mark.parametrize("room", [None, {"": LOG}], ids=["no log", "log"])
def test_a_batch_is_foretold_the_same_alone_and_among_others(room: Rooms | None, *, listens: bool) -> None:
    _, current = house()
    beside = current if listens else ()
    together = told(list(current), room=room, beside=beside)
    assert told(list(current[::-1]), room=room, beside=beside) == together
    for batch in current[::4]:
        assert told([batch], room=room, beside=beside)[batch.key] == together[batch.key]


@pytest.mark.parametrize("listens", [False, True])
@pytest.mark.parametrize("room", [None, {"": LOG}], ids=["no log", "log"])
def test_what_is_said_of_a_day_does_not_depend_on_the_other_days_asked_for(room: Rooms | None, *, listens: bool) -> None:
    prior, current = house()
    prior = replace(prior, damp_effect=0.005)
    curve = (0.0, 1.0, 7.0, 10.5, 28.0, 35.0, 56.0, 63.0, 100.0, 182.0, 365.0, 500.0)
    for days in ((), (56.0,), (7.0, 56.0), (35.0, 365.0)):
        few, many = (
            foretell(current[:8], prior, RULE, step_g=STEP_G, days=asked, room=room, beside=current if listens else ())
            for asked in (days, curve)
        )
        for one, other in zip(few, many, strict=True):
            at = [curve.index(day) for day in days]
            assert (one.ready_day, one.soft_probability) == (other.ready_day, other.soft_probability)
            assert one.water_left_pct == tuple(other.water_left_pct[i] for i in at)
            assert one.new_bar == tuple(other.new_bar[i] for i in at)
            assert one.weight_g == {label: tuple(ranges[i] for i in at) for label, ranges in other.weight_g.items()}


def test_doubts_are_the_same_alone_and_among_others() -> None:
    prior, current = house()
    wrong = [replace(one, bars=(replace(one.bars[0], weights_g=(*one.bars[0].weights_g[:-1], 71.3)),)) for one in current]
    together = doubtful([*current, *wrong], prior, step_g=STEP_G)
    assert any(together)
    for batch, said in zip([*current, *wrong], together, strict=True):
        assert doubtful([batch], prior, step_g=STEP_G) == [said]


@pytest.mark.parametrize("threads", ["1", "4"])
def test_another_process_says_the_same(threads: str) -> None:
    said = subprocess.run(
        [sys.executable, "-c", f"from {__name__} import printed; print(printed(), end='')"],
        env={**os.environ, "OPENBLAS_NUM_THREADS": threads, "PYTHONHASHSEED": threads},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert said.stdout == printed()


def printed() -> str:
    """Write out, to the last digit, what was learnt and is foretold with all there is to go by."""
    prior, current = house()
    return repr((prior, told(list(current), room={"": LOG}, beside=current)))
