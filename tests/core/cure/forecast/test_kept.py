"""What was learnt can be kept as JSON, and what a forecast or a lesson was made of can be told by its fingerprint."""

import json
from dataclasses import replace
from datetime import date

import pytest

from curehouse.core.cure.forecast import kept
from curehouse.core.cure.forecast.batches import ForecastRule, WeighedBatch
from curehouse.core.cure.forecast.beside import RoomMates
from curehouse.core.cure.forecast.calibrating import calibrated
from curehouse.core.cure.forecast.foretold import foretell
from curehouse.core.cure.forecast.kept import (
    fingerprint,
    print_of,
    print_of_calibration,
    print_of_forecast,
    print_of_prior,
)
from curehouse.core.cure.forecast.learning import learn
from curehouse.core.cure.forecast.prior import Prior, cold_prior
from curehouse.core.cure.forecast.ranges import Calibration
from tests.core.cure.forecast.test_beside import early
from tests.core.cure.forecast.test_foretold import STEP_G, grown

RULE = ForecastRule(water_left_limit_pct=33.3, soft_water_of_bar_pct=10.7)
BEGUN = date(2026, 1, 5).toordinal()
WEEKS = tuple(7.0 * i for i in range(9))


def house(count: int = 12) -> list[WeighedBatch]:
    return [
        replace(grown(f"h{i:02d}", WEEKS, tau=16.0 + i, seed=i), cut_day=BEGUN + 3 * i, room="cellar", formula=f"F{i % 3}")
        for i in range(count)
    ]


def test_what_was_learnt_and_what_it_is_asked_come_back_from_json_to_the_last_digit() -> None:
    prior = learn(house(), step_g=STEP_G)
    wide = calibrated(house(), cold_prior(), RULE, step_g=STEP_G)
    for one, kind in ((prior, Prior), (wide, Calibration), (house()[5], WeighedBatch), (RULE, ForecastRule)):
        assert kind.from_plain(json.loads(json.dumps(one.as_plain(), allow_nan=False))) == one
    (found,) = foretell([early(house()[5], 3)], prior, RULE, step_g=STEP_G, calibration=wide)
    assert json.loads(json.dumps(found.as_plain(), allow_nan=False))["key"] == "h05"


def prints(batches: list[WeighedBatch], rule: ForecastRule = RULE, step_g: float = STEP_G) -> set[str]:
    return {print_of_prior(batches, step_g=step_g, earlier=None), print_of_calibration(batches, rule, step_g=step_g)}


def test_the_same_cures_teach_under_the_same_fingerprint_in_any_order() -> None:
    mixed = [replace(batch, bars=batch.bars[::-1]) for batch in house()[::-1]]
    assert prints(mixed) == prints(house())


@pytest.mark.parametrize("what", ["weight", "room", "step", "one more", "version"])
def test_whatever_changes_is_seen_by_what_was_learnt(what: str, monkeypatch: pytest.MonkeyPatch) -> None:
    batches, step_g, before = house(), STEP_G, prints(house())
    if what == "weight":
        bar = batches[3].bars[0]
        bar = replace(bar, weights_g=(*bar.weights_g[:-1], bar.weights_g[-1] + 0.1))
        batches[3] = replace(batches[3], bars=(bar, *batches[3].bars[1:]))
    elif what == "room":
        batches[3] = replace(batches[3], room="loft")
    elif what == "step":
        step_g = 1.0
    elif what == "one more":
        batches = house(13)
    else:
        monkeypatch.setattr(kept, "VERSION", "cure-next")
    assert not prints(batches, step_g=step_g) & before


def test_widths_rest_on_the_rule_and_a_prior_on_what_it_goes_on_from() -> None:
    later = replace(RULE, min_days=29)
    assert print_of_calibration(house(), RULE, step_g=STEP_G) != print_of_calibration(house(), later, step_g=STEP_G)
    first = print_of_prior(house(), step_g=STEP_G, earlier=None)
    assert print_of_prior(house(), step_g=STEP_G, earlier=first) != first


def entered(batch: WeighedBatch, beside: list[WeighedBatch]) -> str:
    mates = RoomMates(beside)
    heard = [print_of(mates.as_known(one)) for one in mates.wanted(batch)]
    return print_of_forecast(print_of(batch), heard, prior=None, calibration=None, asked={"days": [56.0]})


def test_a_forecast_is_made_of_what_was_known_on_its_batchs_last_day() -> None:
    batch, others = early(house()[5], 3), house()
    same = entered(batch, others)
    assert batch.cut_day is not None
    # What comes later, what hangs elsewhere and the order of things are no part of it.
    later = replace(others[7], cut_day=batch.cut_day + int(batch.last_day) + 1)
    elsewhere = replace(grown("x", WEEKS, seed=77), cut_day=BEGUN, room="loft")
    assert entered(batch, [*others[::-1], replace(later, key="y"), elsewhere]) == same
    assert entered(replace(batch, bars=batch.bars[::-1]), others) == same
    # What was known then is.
    assert entered(batch, [*others[:4], *others[5:]]) != same
    assert entered(replace(batch, water_share=0.21), others) != same


def test_what_a_forecast_is_made_by_and_asked_is_part_of_it() -> None:
    asked = {"days": [56.0], "rule": RULE.as_plain(), "step_g": STEP_G}
    each = [
        print_of_forecast("b", heard, prior=prior, calibration=wide, asked=days)
        for heard, prior, wide, days in (
            ([], None, None, asked),
            (["o"], None, None, asked),
            ([], "p", None, asked),
            ([], None, "p", asked),
            ([], None, None, {**asked, "days": [28.0, 56.0]}),
        )
    ]
    assert len(set(each)) == len(each)


def test_what_is_no_number_has_no_fingerprint() -> None:
    with pytest.raises(ValueError, match="JSON"):
        fingerprint([float("nan")])
