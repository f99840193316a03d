"""What saves a night its time leaves what it finds as it is: shapes that are filled up, stages that are left out."""

import math
from dataclasses import replace

import numpy as np
import pytest

from curehouse.core.cure.forecast import learning
from curehouse.core.cure.forecast.batches import BarReadings, WeighedBatch
from curehouse.core.cure.forecast.in_order import known_before, stage_of, stages
from curehouse.core.cure.forecast.kept import Prints, print_of
from curehouse.core.cure.forecast.learning import learn
from curehouse.core.cure.forecast.packing import packed
from curehouse.core.cure.forecast.posterior import fit
from curehouse.core.cure.forecast.prior import cold_prior
from tests.core.cure.forecast.test_foretold import STEP_G, grown
from tests.core.cure.forecast.test_to_the_last_digit import BEGUN, LOG


def cures(count: int, *, least: int = 2, most: int = 9, begun: int = BEGUN - 60) -> list[WeighedBatch]:
    """Return batches of three bars, of several numbers of weekly sessions, one cut after the other."""
    found = []
    for i in range(count):
        days = tuple(7.0 * week for week in range(least + i % (most - least + 1)))
        whole = grown(f"w{i:02d}", days, tau=15.0 + i % 11, seed=700 + i)
        found.append(replace(whole, formula=f"F{i % 3}", cut_day=begun + 2 * i))
    return found


@pytest.mark.parametrize("room", [None, {"": LOG}], ids=["no log", "log"])
def test_sessions_that_only_fill_up_teach_nothing(monkeypatch: pytest.MonkeyPatch, room: dict[str, object] | None) -> None:
    """Of the same cures the same is learnt, whether shapes are filled up or not, but for rounding."""
    filled = learn(cures(24), step_g=STEP_G, room=room)  # type: ignore[arg-type]
    monkeypatch.setattr(learning, "FILL", 1)
    plain = learn(cures(24), step_g=STEP_G, room=room)  # type: ignore[arg-type]
    for name, value in plain.as_plain().items():
        if name != "formulas":
            assert np.allclose(filled.as_plain()[name], value, rtol=1e-6, atol=1e-9), name


def test_what_a_batch_says_of_the_damp_is_the_same_filled_up() -> None:
    batches = cures(12, least=3, most=3)
    ((group, _),) = packed(batches, cold_prior())
    ((filled, _),) = packed(batches, cold_prior(), fill=4)
    assert filled.sessions.shape[1] == 4
    assert filled.held.sum() == group.held.sum() == 36
    precision, pull = fit(group, cold_prior(), step_g=STEP_G).says_of_damp()
    more, further = fit(filled, cold_prior(), step_g=STEP_G).says_of_damp()
    assert np.allclose(more[:, :3, :3], precision, rtol=1e-6)
    assert np.allclose(further[:, :3], pull, rtol=1e-6, atol=1e-6)
    assert np.abs(more[:, 3]).max() < 1e-4 * np.abs(precision).max()


def test_only_stages_by_which_somebody_is_forecast_are_learnt() -> None:
    """Batches cut long after each other, all weighed again lately, need what the house knows now, and no more."""
    current = cures(60, least=4, most=4, begun=BEGUN)
    each = list(stages([], current))
    assert len(each) > 3
    assert {stage_of(batch, each) for batch in current} | {0} == set(range(len(each)))
    today = max(batch.cut_day + batch.last_day for batch in current if batch.cut_day is not None)
    lately = [
        replace(
            batch,
            bars=tuple(
                BarReadings(bar.label, (*bar.days, today - (batch.cut_day or 0)), (*bar.weights_g, bar.weights_g[-1]))
                for bar in batch.bars
            ),
        )
        for batch in current
        if (batch.cut_day or 0) + batch.last_day < today
    ]
    left = list(stages([], lately))
    assert [stage.begin for stage in left][0] == -math.inf
    assert len(left) == 2
    assert all(stage_of(batch, left) == 1 for batch in lately)


def test_what_was_known_of_a_batch_before_a_day_is_the_batch_itself_where_that_is_all() -> None:
    (batch,) = cures(1, least=5, most=5)
    assert known_before(batch, (batch.cut_day or 0) + batch.last_day + 1) is batch
    part = known_before(batch, (batch.cut_day or 0) + batch.last_day)
    assert part is not None
    assert part.last_day < batch.last_day


def test_a_print_is_that_of_the_very_batch() -> None:
    """A day written 7 and one written 7.0 are equal, and have prints of their own."""
    prints, days = Prints(), ((0.0, 7.0), (0, 7))
    both = [WeighedBatch("a", "F", 0.2, (BarReadings("b", one, (100.0, 98.0)),)) for one in days]
    assert both[0] == both[1]
    assert [prints.of(batch) for batch in both] == [print_of(batch) for batch in both]
    assert prints.of(both[0]) != prints.of(both[1])
