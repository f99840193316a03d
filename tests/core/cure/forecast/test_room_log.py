"""What a room's log tells of the days to come, whether it is worth hearing, and what its temperature says."""

from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import pytest

from curehouse.core.cure.forecast.airing import Airs, Message, share_counted
from curehouse.core.cure.forecast.batches import ForecastRule, RoomDay, WeighedBatch
from curehouse.core.cure.forecast.foretold import foretell
from curehouse.core.cure.forecast.humidity import RoomLog, Rooms, heard_part, log_of, pressure_deficit_hpa
from curehouse.core.cure.forecast.kept import log_from_plain, plain_log
from curehouse.core.cure.forecast.learning import learn
from curehouse.core.cure.forecast.packing import packed
from curehouse.core.cure.forecast.posterior import fit
from curehouse.core.cure.forecast.prior import DRYING, Floats, Prior, cold_prior
from tests.core.cure.forecast.test_foretold import STEP_G, grown

BEGUN = date(2026, 1, 5).toordinal()
DAYS = 700
EFFECT = 0.006
WEEKS = tuple(7.0 * i for i in range(10))


@pytest.mark.parametrize(("celsius", "hpa"), [(0.0, 6.11), (10.0, 12.28), (20.0, 23.39), (30.0, 42.46)])
def test_saturated_vapour_has_the_pressure_of_the_tables(celsius: float, hpa: float) -> None:
    """Pressure of water vapour by the usual tables (from memory), dry air and half of it."""
    dry, half = pressure_deficit_hpa(np.array([0.0, 50.0]), np.array([celsius, celsius]))
    assert dry == pytest.approx(hpa, rel=4e-3)
    assert half == pytest.approx(hpa / 2, rel=4e-3)


def humidity(seed: int, *, keeps: float = 0.93) -> Floats:
    rng = np.random.default_rng(seed)
    out = np.zeros(DAYS)
    for day in range(1, DAYS):
        out[day] = keeps * out[day - 1] + rng.normal(0, 2.5)
    return np.asarray(np.clip(55 + out, 15, 95))


def log(points: Floats, *, celsius: float | None = None) -> RoomLog:
    return RoomLog([RoomDay(BEGUN - 60 + i, float(one), celsius) for i, one in enumerate(points)])


def in_air(key: str, cut: int, points: Floats, days: tuple[float, ...], seed: int, room: str = "") -> WeighedBatch:
    """Grow a batch whose bars take up with a delay what damp air gives."""
    rng = np.random.default_rng(900 + seed)
    dry = grown(key, days, tau=20 * float(np.exp(rng.normal(0, 0.2))), seed=seed)
    soaked, state = [], points[60 + cut]
    for day in range(60 + cut, 60 + cut + int(days[-1]) + 1):
        state += (points[day] - state) / 8
        soaked.append(state)
    gained = EFFECT * (np.array(soaked) - soaked[0]) / 10
    bars = tuple(
        replace(
            bar,
            weights_g=tuple(
                round(g + bar.weights_g[0] * float(gained[int(day)]), 1) for day, g in zip(bar.days, bar.weights_g, strict=True)
            ),
        )
        for bar in dry.bars
    )
    return replace(dry, bars=bars, cut_day=BEGUN + cut, room=room)


POINTS = humidity(1)
OWN: Rooms = {"": log(POINTS)}
ANOTHERS: Rooms = {"": log(humidity(2))}


@cache
def house() -> tuple[WeighedBatch, ...]:
    return tuple(in_air(f"h{i:02d}", 12 * i, POINTS, WEEKS, i) for i in range(36))


@cache
def taught(which: str) -> Prior:
    return learn(house(), step_g=STEP_G, room={"own": OWN, "another's": ANOTHERS, "none": None}[which])


def test_the_log_of_the_room_itself_is_listened_to_for_what_it_is_worth() -> None:
    found = taught("own")
    assert found.damp_effect == pytest.approx(EFFECT, rel=0.25)
    assert found.logged_room_sd < found.room_sd


def test_the_log_of_another_place_changes_nothing() -> None:
    assert taught("another's").damp_effect == 0.0
    batch = in_air("a", 450, POINTS, (0.0, 7.0, 14.0), 99)
    said = [
        foretell([batch], taught(which), ForecastRule(), step_g=STEP_G, days=(56.0,), room=room, beside=house())
        for which, room in (("another's", ANOTHERS), ("none", None))
    ]
    assert said[0] == said[1]


def test_before_anything_is_learnt_a_log_changes_nothing() -> None:
    batch = in_air("a", 450, POINTS, (0.0, 7.0, 14.0), 99)
    said = [
        foretell([batch], learn([], step_g=STEP_G, room=room), ForecastRule(), step_g=STEP_G, days=(56.0,), room=room)
        for room in (OWN, None)
    ]
    assert said[0] == said[1]


def test_batches_that_all_hung_in_one_air_say_nothing_of_a_log() -> None:
    """However wild it was: whether air or curve held their weights up, no batch more in it can tell."""
    wild = np.clip(3 * POINTS - 110, 5, 99)
    for count in (4, 12):
        together = [in_air(f"t{i:02d}", 100 + i % 3, wild, WEEKS, i) for i in range(count)]
        assert learn(together, step_g=STEP_G, room={"": log(wild)}) == learn(together, step_g=STEP_G)


def test_more_batches_in_the_same_air_are_less_news_of_a_log_than_as_many_in_others() -> None:
    apart = [in_air(f"h{i:02d}", 100 * (i % 6), POINTS, WEEKS, i) for i in range(6)]
    alike = [in_air(f"h{i:02d}", 100 * (i % 2), POINTS, WEEKS, i) for i in range(6)]
    assert Airs.of(apart).alike == 1.0 and Airs.of(alike).alike == 3.0
    assert Airs.of(apart).beyond > Airs.of(alike).beyond > 0.0
    assert Airs.of(apart[:1]).beyond == Airs.of([]).beyond == 0.0
    messages = [Message.of(group, fit(group, cold_prior(), step_g=STEP_G)) for group, _ in packed(apart, cold_prior(), OWN)]
    mix = cold_prior().mix
    counted = [share_counted(messages, Airs(n, 1.0), 0.002, mix) for n in (1.0, 3.0, 9.0)]
    assert counted[0] == 1.0 and counted[0] > counted[1] > counted[2] > 1 / 9


def test_a_log_by_which_damp_air_would_make_bars_lighter_is_not_heard() -> None:
    upside_down: Rooms = {"": log(110 - POINTS)}
    assert learn(house(), step_g=STEP_G, room=upside_down).damp_effect == 0.0


def test_a_log_that_is_listened_to_makes_weights_better_known() -> None:
    errors: dict[str, list[float]] = {"own": [], "none": []}
    for seed in range(20):
        whole = in_air("a", 440 + 5 * seed, POINTS, (0.0, 7.0, 14.0, 21.0, 56.0), 200 + seed)
        early = replace(whole, bars=tuple(replace(bar, days=bar.days[:4], weights_g=bar.weights_g[:4]) for bar in whole.bars))
        for which, into in errors.items():
            room = OWN if which == "own" else None
            (said,) = foretell([early], taught(which), ForecastRule(), step_g=STEP_G, days=(56.0,), room=room)
            into += [abs(said.weight_g[bar.label][0].p50 - bar.weights_g[-1]) for bar in whole.bars]
    assert np.mean(errors["own"]) < 0.95 * np.mean(errors["none"])


def test_each_room_has_its_own_log() -> None:
    loft = humidity(3)
    both = {"cellar": log(POINTS), "loft": log(loft)}
    mixed = [in_air(f"h{i:02d}", 12 * i, POINTS if i % 2 else loft, WEEKS, i, "cellar" if i % 2 else "loft") for i in range(36)]
    assert learn(mixed, step_g=STEP_G, room=both).damp_effect == pytest.approx(EFFECT, rel=0.3)
    assert learn(mixed, step_g=STEP_G, room={"loft": both["cellar"], "cellar": both["loft"]}).damp_effect == 0.0


def test_a_short_log_is_not_taken_at_its_word() -> None:
    """Ten weeks in which it grew ever damper: it need not go on so, and what comes is not known to the point."""
    short = RoomLog([RoomDay(BEGUN + i, 45 + 0.2 * i) for i in range(70)])
    ahead = short.paths(BEGUN + 55, BEGUN + 69, 126, 400)
    level = short.points[-14:].mean()
    reached = ahead[:, -1]
    assert abs(np.median(reached)) < 1.5
    assert reached.std() > 0.4
    assert level > short.points.mean()


def test_what_is_drawn_of_a_log_fades_to_its_season() -> None:
    rng = np.random.default_rng(5)
    days = np.arange(1500)
    points = 55 + 8 * np.cos(2 * np.pi * days / 365.25) + rng.normal(0, 2, len(days))
    known = RoomLog([RoomDay(BEGUN + i, float(one)) for i, one in enumerate(points)])
    cut = BEGUN + 1499 - 14
    path = known.paths(cut, BEGUN + 1499, 126, 300).mean(axis=0)
    season = 0.8 * (np.cos(2 * np.pi * (1485 + 126) / 365.25) - np.cos(2 * np.pi * 1485 / 365.25))
    assert path[126] == pytest.approx(season, abs=0.25)


def test_warm_air_that_makes_bars_dry_faster_is_learnt() -> None:
    """A cold room and a warm one of the same humidity; bars in the warm one dry in half the time."""
    still = np.full(DAYS, 50.0)
    logs = {"cold": log(still, celsius=14.0), "warm": log(still, celsius=24.0)}
    mixed = []
    for i in range(40):
        rng = np.random.default_rng(i)
        room = "warm" if i % 2 else "cold"
        tau = (14.0 if room == "warm" else 26.0) * float(np.exp(rng.normal(0, 0.15)))
        mixed.append(replace(grown(f"h{i:02d}", WEEKS, tau=tau, seed=i), cut_day=BEGUN + 10 * i, room=room))
    found = learn(mixed, step_g=STEP_G, room=logs)
    # Half the time for nearly twice the pressure deficit.
    assert found.coefficient_array()[1, DRYING] == pytest.approx(-1.0, abs=0.35)
    alike = [replace(batch, room="cold" if batch.room == "warm" else batch.room) for batch in mixed]
    assert learn(alike, step_g=STEP_G, room=logs).coefficient_array()[1, DRYING] == 0.0


def test_nothing_written_after_the_last_weighing_is_heard_not_even_over_a_gap() -> None:
    batch = in_air("a", 450, POINTS, (0.0, 7.0, 14.0), 99)
    last = BEGUN + 450 + 14
    known = [RoomDay(BEGUN - 60 + i, float(one), 18.0) for i, one in enumerate(POINTS) if BEGUN - 60 + i <= last - 2]
    early = RoomLog(known)
    later = RoomLog([*known, RoomDay(last + 1, 95.0, 31.0), RoomDay(last + 90, 95.0, 31.0)])
    said = [foretell([batch], taught("own"), ForecastRule(), step_g=STEP_G, room={"": log}) for log in (early, later)]
    assert said[0] == said[1]
    # A log that reaches over the weighings only by what was written afterwards does not reach over them.
    stopped = RoomLog([*known[:-10], RoomDay(last + 1, 60.0)])
    assert log_of(batch, {"": stopped}) is None and log_of(batch, {"": early}) is not None


def test_of_a_log_that_part_is_heard_which_lies_before_the_last_of_the_weighings() -> None:
    batches = [in_air("a", 400, POINTS, (0.0, 7.0, 14.0), 1), in_air("b", 430, POINTS, (0.0, 7.0), 2, "loft")]
    logs = {"": log(POINTS), "loft": log(POINTS[:200]), "cellar": log(POINTS)}
    (name, part), *rest = heard_part(batches, logs).items()
    assert (name, part.last, rest) == ("", BEGUN + 414, [])
    assert log_from_plain(plain_log(part.days)) == part.days
