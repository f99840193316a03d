"""What was learnt can be kept as JSON, and what a forecast was made of can be told by its fingerprint."""

import json
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from curehouse.core.cure.forecast import kept
from curehouse.core.cure.forecast.batches import ForecastRule, RoomDay, WeighedBatch
from curehouse.core.cure.forecast.beside import RoomMates
from curehouse.core.cure.forecast.foretold import BatchForecast, foretell
from curehouse.core.cure.forecast.humidity import RoomLog
from curehouse.core.cure.forecast.kept import Learnt, made_of, taught
from tests.core.cure.forecast.test_beside import early
from tests.core.cure.forecast.test_foretold import STEP_G, grown

RULE = ForecastRule()
BEGUN = date(2026, 1, 5).toordinal()
WEEKS = tuple(7.0 * i for i in range(9))
DAYS = [RoomDay(BEGUN - 60 + i, 55 + 8 * float(np.sin(i / 11)), 18.3) for i in range(220)]
LOGS = {"cellar": RoomLog(DAYS)}


def house(count: int = 12) -> list[WeighedBatch]:
    return [
        replace(grown(f"h{i:02d}", WEEKS, tau=16.0 + i, seed=i), cut_day=BEGUN + 3 * i, room="cellar", formula=f"F{i % 3}")
        for i in range(count)
    ]


LEARNT = taught(house(), RULE, step_g=STEP_G, room=LOGS)


def told(learnt: Learnt, batch: WeighedBatch) -> BatchForecast:
    (found,) = foretell(
        [batch], learnt.prior, RULE, step_g=STEP_G, days=(56.0,), room=LOGS, calibration=learnt.calibration, beside=house()
    )
    return found


def test_what_was_learnt_comes_back_from_json_to_the_last_digit() -> None:
    again = Learnt.from_plain(json.loads(json.dumps(LEARNT.as_plain(), allow_nan=False)))
    assert again == LEARNT
    batch = early(house()[5], 3)
    assert told(again, batch) == told(LEARNT, batch)


def test_what_another_version_learnt_is_not_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = LEARNT.as_plain()
    monkeypatch.setattr(kept, "VERSION", "cure-next")
    with pytest.raises(ValueError, match="learn it anew"):
        Learnt.from_plain(plain)


def test_nothing_is_learnt_anew_from_the_same() -> None:
    assert taught(house()[::-1], RULE, step_g=STEP_G, room=LOGS, earlier=LEARNT) is LEARNT


@pytest.mark.parametrize("what", ["weight", "rule", "log", "room", "one more"])
def test_whatever_changes_is_seen_by_what_was_learnt(what: str) -> None:
    batches, rule, logs = house(), RULE, LOGS
    if what == "weight":
        bar = batches[3].bars[0]
        bar = replace(bar, weights_g=(*bar.weights_g[:-1], bar.weights_g[-1] + 0.1))
        batches[3] = replace(batches[3], bars=(bar, *batches[3].bars[1:]))
    elif what == "rule":
        rule = replace(rule, min_days=29)
    elif what == "log":
        logs = {"cellar": RoomLog([*DAYS[:-1], replace(DAYS[-1], temperature_c=19.0)])}
    elif what == "room":
        batches[3] = replace(batches[3], room="loft")
    else:
        batches = house(13)
    assert taught(batches, rule, step_g=STEP_G, room=logs).fingerprint != LEARNT.fingerprint


def entered(batch: WeighedBatch, beside: list[WeighedBatch], days: list[RoomDay] = DAYS) -> str:
    logs = {"cellar": RoomLog(days)}
    return made_of(batch, LEARNT, RULE, step_g=STEP_G, days=(56.0,), room=logs, beside=RoomMates(beside))


def test_a_forecast_is_made_of_what_was_known_on_its_batchs_last_day() -> None:
    batch, others = early(house()[5], 3), house()
    same = entered(batch, others)
    assert batch.cut_day is not None
    last = batch.cut_day + int(batch.last_day)
    # What comes later, what hangs elsewhere and the order of things are no part of it.
    later = replace(others[7], cut_day=last + 1)
    elsewhere = replace(grown("x", WEEKS, seed=77), cut_day=BEGUN, room="loft")
    assert entered(batch, [*others[::-1], replace(later, key="y"), elsewhere]) == same
    assert entered(batch, others, [*DAYS, RoomDay(DAYS[-1].day + 1, 30.0)]) == same
    assert entered(replace(batch, bars=batch.bars[::-1]), others) == same
    # What was known then is.
    assert entered(batch, [*others[:4], *others[5:]]) != same
    assert entered(batch, others, [day for day in DAYS if day.day != last]) != same
    assert entered(replace(batch, water_share=0.21), others) != same


def test_batches_rules_and_forecasts_come_back_from_json_to_the_last_digit() -> None:
    batch = early(house()[5], 3)
    found = told(LEARNT, batch)
    rule = ForecastRule(water_left_limit_pct=33.3, soft_water_of_bar_pct=10.7)
    for one in (batch, rule, found):
        assert type(one).from_plain(json.loads(json.dumps(one.as_plain(), allow_nan=False))) == one
