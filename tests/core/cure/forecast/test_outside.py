"""The fit and its ranges against published figures and real records that are no soap."""

import csv
import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from curehouse.core.cure.forecast.batches import BarReadings, ForecastRule, WeighedBatch
from curehouse.core.cure.forecast.foretold import BatchForecast, foretell
from curehouse.core.cure.forecast.packing import Packed
from curehouse.core.cure.forecast.posterior import Fit, fit
from curehouse.core.cure.forecast.prior import Floats, Prior
from tests.benchmarks.cures_made import slab
from tests.core.cure.forecast.flat import SHARE, flat_prior

REFERENCE = Path(__file__).parents[3] / "reference"
START = 1000.0


def fitted(times: Floats, lost: Floats, prior: Prior) -> Fit:
    """Fit what was lost of 1000 by each time; what was there at first is known exactly."""
    days = np.concatenate([[0.0], times])
    seen = np.concatenate([[False], np.ones(len(times), dtype=bool)])
    relative = np.concatenate([[0.0], 1 - lost / START])
    packed = Packed(
        batches=(WeighedBatch("record", "none", SHARE, (BarReadings("a", (0.0,), (START,)),)),),
        labels=(("a",),),
        design=np.array([[1.0, 0.0, 0.0, 0.0, 0.0]]),
        known=np.array([True]),
        water=np.array([SHARE]),
        sessions=days[None],
        held=np.ones((1, len(days)), dtype=bool),
        days=days[None, None],
        relative=relative[None, None],
        seen=seen[None, None],
        given_g=(START * relative)[None, None],
        scale_g=np.array([[START]]),
        size=np.ones((1, 1)),
        off=np.zeros((1, 1, len(days))),
        session_off=np.zeros((1, len(days))),
        logged=False,
        damp=np.zeros((1, len(days))),
    )
    prior = replace(prior, size_sd=1e-4 * prior.reading_sd, session_sd=1e-4 * prior.reading_sd)
    found = fit(packed, prior, step_g=1e-9)
    for _ in range(10):
        found = fit(packed, prior, step_g=1e-9, start=found)
    return found


def certified(name: str) -> tuple[Floats, Floats, list[float], list[float], float]:
    """Return times, values, certified parameters, their standard deviations and the residual's, from NIST's own file."""
    text = (REFERENCE / "nist" / f"{name}.dat").read_text(encoding="utf-8")
    rows = re.findall(r"^\s*b\d = \s*\S+\s+\S+\s+(\S+)\s+(\S+)", text, re.M)
    residual = float(re.search(r"Residual Standard Deviation:\s*(\S+)", text)[1])
    data = np.array([line.split() for line in text[text.index("Data:   y") :].splitlines()[1:] if line.strip()], dtype=float)
    return data[:, 1], data[:, 0], [float(b) for b, _ in rows], [float(sd) for _, sd in rows], residual


@pytest.mark.parametrize("name", ["BoxBOD", "Misra1a"])
def test_an_approach_to_a_floor_is_fitted_to_nists_certified_figures(name: str) -> None:
    times, values, parameters, sds, residual_sd = certified(name)
    prior = flat_prior(float(times[-1]), noise=residual_sd / START, shape_sd=0.0, spread=1e4, gone=float(values[-1]) / START)
    found = fitted(times, values, prior)
    amount, rate = START * SHARE * float(np.exp(found.curve[0, 0])), 1 / float(np.exp(found.curve[0, 1]))
    assert [amount, rate] == pytest.approx(parameters, rel=1e-6)
    spread = np.sqrt(np.diagonal(found.shared_cov[0])[:2])
    assert [amount * spread[0], rate * spread[1]] == pytest.approx(sds, rel=1e-5)
    left = START * found.residuals[found.residuals != 0]
    assert np.sqrt(np.square(left).sum() / (len(times) - 2)) == pytest.approx(residual_sd, rel=1e-6)


def test_the_curve_is_no_slab_but_comes_within_three_hundredths_of_one() -> None:
    """No slab is claimed: held against Crank's table (The Mathematics of Diffusion, 1975) the curve misses by this much."""
    with (REFERENCE / "crank_plane_sheet.csv").open(encoding="utf-8") as file:
        table = [[float(one) for one in list(row.values())[:2]] for row in csv.DictReader(file)]
    clock, gone = np.array(table).T
    early = clock >= 0.01
    found = fitted(100 * clock[early], 200 * gone[early], flat_prior(50.0, noise=0.002, gone=0.2))
    missed = np.abs(START * found.residuals[0, 0]) / 200
    assert 0.003 < missed.max() < 0.03


def test_the_slabs_of_the_cures_made_for_scores_dry_as_cranks_table_says() -> None:
    with (REFERENCE / "crank_plane_sheet.csv").open(encoding="utf-8") as file:
        table = [[float(one) for one in list(row.values())[:2]] for row in csv.DictReader(file)]
    clock, gone = np.array(table).T
    assert slab(clock) == pytest.approx(gone, abs=6e-3)
    assert slab(clock[clock >= 0.01]) == pytest.approx(gone[clock >= 0.01], abs=2e-5)


def told(batch: WeighedBatch, prior: Prior, times: list[float]) -> BatchForecast:
    rule = ForecastRule(min_days=7, latest_day=14, horizon_days=21)
    return foretell([batch], prior, rule, step_g=1e-3, days=times, draws=600)[0]


def record(bars: list[tuple[Floats, Floats]], until: float) -> WeighedBatch:
    return WeighedBatch(
        "record", "none", SHARE,
        tuple(
            BarReadings(f"b{i}", tuple(times[times <= until].tolist()), tuple(weights[times <= until].tolist()))
            for i, (times, weights) in enumerate(bars)
        ),
    )  # fmt: skip


def test_a_pomegranates_peel_dries_into_the_stated_range() -> None:
    """Eight replicates in % of weight lost, time in minutes; from 720 minutes to 2,370 (R package AgroReg).

    A tray as heavy as the peel is put under it: nothing that cures loses more than half of its weight.
    """
    by_bar: dict[str, list[tuple[float, float]]] = {}
    with (REFERENCE / "drying" / "pomegranate_peel_mass_loss.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            by_bar.setdefault(row["rep"], [(0.0, 200.0)]).append((float(row["time"]), 200 - float(row["WL"])))
    bars = [(np.array(points)[:, 0], np.array(points)[:, 1]) for points in by_bar.values()]
    for until in (720.0, 930.0):
        later = sorted({float(t) for t, _ in by_bar["1"] if t > until})
        found = told(record(bars, until), flat_prior(until, noise=0.01, session=0.02, bar_sd=0.05), later)
        inside = [
            ranges[d].p10 <= weights[times == at][0] <= ranges[d].p90
            for (times, weights), ranges in zip(bars, found.weight_g.values(), strict=True)
            for d, at in enumerate(later)
        ]
        assert np.mean(inside) >= 0.8
        assert all(ranges[-1].p90 - ranges[-1].p10 < 40 for ranges in found.weight_g.values())


def test_the_floor_of_wet_sand_is_not_claimed_to_be_known() -> None:
    """Ten weights over 90 minutes: an exponential says 578 ± 19 g, a stretched one 643 ± 12 g; the dry mass is unknown."""
    with (REFERENCE / "drying" / "wet_sand_tray_dryer.csv").open(encoding="utf-8") as file:
        rows = [[float(one) for one in row.values()] for row in csv.DictReader(file)]
    times, grams = np.array(rows).T
    found = told(record([(times, grams)], 90.0), flat_prior(90.0, noise=0.003), [60.0, 2000.0])
    known, floor = found.weight_g["b0"]
    assert known.p90 - known.p10 < 8
    assert floor.p10 < 643 + 12 and floor.p90 > 600
    assert floor.p90 - floor.p10 > 40


def test_a_long_record_of_weights_runs_into_the_stated_range() -> None:
    """`wtloss` of the R package MASS: kilograms over 246 days; from the first 120 days to the end."""
    with (REFERENCE / "mass_wtloss.csv").open(encoding="utf-8") as file:
        points: dict[float, list[float]] = {}
        for row in csv.DictReader(file):
            points.setdefault(float(row["Days"]), []).append(float(row["Weight"]))
    times, weights = np.array(list(points)), np.array([np.mean(one) for one in points.values()])
    later = times[times > 120]
    found = told(record([(times, weights)], 120.0), flat_prior(120.0, noise=0.006), later.tolist())
    ranges = found.weight_g["b0"]
    inside = [one.p10 <= weight <= one.p90 for one, weight in zip(ranges, weights[times > 120], strict=True)]
    assert np.mean(inside) >= 0.8
    assert ranges[-1].p90 - ranges[-1].p10 < 40


def test_a_round_of_oak_dries_into_the_stated_range() -> None:
    """Five weights in pounds over half a year, the first 24 days after it was felled: from three the other two."""
    with (REFERENCE / "drying" / "firewood_round.csv").open(encoding="utf-8") as file:
        rows = [(date.fromisoformat(f"2001-{row['date']}"), float(row["lb"])) for row in csv.DictReader(file)]
    felled = date(2001, 8, 26)
    times = np.array([float((day - felled).days % 365) for day, _ in rows])
    pounds = np.array([lb for _, lb in rows])
    assert times.tolist() == [24.0, 82.0, 116.0, 148.0, 181.0]
    found = told(record([(times, pounds)], 116.0), flat_prior(116.0, noise=0.01), [148.0, 181.0])
    for one, lb in zip(found.weight_g["b0"], pounds[3:], strict=True):
        assert one.p10 <= lb <= one.p90
        assert one.p90 - one.p10 < 12
