"""Fourteen simulated batches, assessed as of every reading, against brute force."""

from collections import Counter, defaultdict

import pytest

from curehouse.core.cure.doubt import look_at
from curehouse.core.cure.measured import assess
from curehouse.core.cure.rule import BatchAtMoment, CheckOutcome, SampleSeries, State
from curehouse.core.cure.series import Weighing
from tests.brute_force import Row, brute_all, load

BATCHES = load()


def assessed(rows: list[Row], share: float):
    bars = tuple(
        SampleSeries(
            bar,
            tuple(Weighing(r.day, r.weight_g, r.doubtful) for r in rows if r.bar == bar),
        )
        for bar in sorted({row.bar for row in rows})
    )
    day = max(row.day for row in rows)
    return assess(BatchAtMoment(int(day), day, bars, CheckOutcome.PASSED, share))


def with_doubts(rows: list[Row], share: float) -> list[Row]:
    """Mark what would have been asked about on entry."""
    seen: list[Row] = []
    for row in rows:
        series: dict[str, list[Weighing]] = defaultdict(list)
        for earlier in seen:
            series[earlier.bar].append(Weighing(earlier.day, earlier.weight_g, earlier.doubtful))
        own = series.pop(row.bar, [])
        others = [SampleSeries(label, tuple(weighings)) for label, weighings in series.items()]
        doubt = look_at(row.weight_g, own, row.day, batch=others, water_share=share)
        seen.append(Row(row.bar, row.day, row.weight_g, doubt is not None))
    return seen


def compare(rows: list[Row], share: float) -> list[State]:
    states = []
    for count in range(1, len(rows) + 1):
        known = rows[:count]
        verdict = assessed(known, share)
        weekly, total, left, state = brute_all(known, share)
        where = f"as of reading {count}"
        assert verdict.weekly_loss_pct == pytest.approx(weekly, abs=1e-9), where
        assert verdict.total_loss_pct == pytest.approx(total, abs=1e-9), where
        assert verdict.water_left_pct == pytest.approx(left, abs=1e-9), where
        assert verdict.state is state, where
        states.append(state)
    return states


@pytest.mark.parametrize("name", BATCHES)
def test_the_verdict_equals_brute_force_as_of_every_reading(name):
    share, rows = BATCHES[name]
    states = compare(rows, share)
    assert states[0] is State.CURING


@pytest.mark.parametrize("name", BATCHES)
def test_the_verdict_equals_brute_force_with_doubtful_readings_left_out(name):
    share, rows = BATCHES[name]
    compare(with_doubts(rows, share), share)


def test_the_batches_show_missing_weeks_faults_and_every_state_of_a_cure():
    states: Counter[State] = Counter()
    doubtful = 0
    for share, rows in BATCHES.values():
        marked = with_doubts(rows, share)
        doubtful += sum(row.doubtful for row in marked)
        states.update(compare(marked, share))
    gaps = [
        later - earlier
        for _, rows in BATCHES.values()
        for earlier, later in zip(sorted({r.day for r in rows}), sorted({r.day for r in rows})[1:], strict=False)
    ]
    assert max(gaps) > 10
    assert doubtful >= 3
    assert {State.CURING, State.READY, State.TOO_SOFT, State.LOOK_AGAIN} <= set(states)
