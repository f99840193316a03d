"""Under which fingerprint what was learnt and what is foretold are kept: the same one, the same figures to the last digit."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from .batches import ForecastRule, WeighedBatch

# Changes with every change by which the same weighings give other figures.
VERSION = "cure-6"


def fingerprint(content: Any) -> str:
    """Return the SHA-256 of plain values, however their keys are ordered.

    Raises
    ------
    ValueError
        If one of them is no finite number.
    """
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def print_of(batch: WeighedBatch) -> str:
    """Return the fingerprint of what of a batch enters a forecast or a lesson, in whatever order its bars come."""
    bars = tuple(sorted((bar for bar in batch.bars if bar.days), key=lambda bar: bar.label))
    return fingerprint(replace(batch, bars=bars).as_plain())


def print_of_prior(teaching: Sequence[WeighedBatch], *, step_g: float, earlier: str | None) -> str:
    """Return the fingerprint of what batches teach on a scale of that step; `earlier` is that of what it goes on from."""
    return fingerprint([VERSION, "prior", step_g, earlier, sorted(map(print_of, teaching))])


def print_of_calibration(history: Sequence[WeighedBatch], rule: ForecastRule, *, step_g: float) -> str:
    """Return the fingerprint of what replaying a history by a rule says of how wide ranges must be."""
    return fingerprint([VERSION, "calibration", step_g, rule.as_plain(), sorted(map(print_of, history))])


def print_of_forecast(
    batch: str, heard: Sequence[str], *, prior: str | None, calibration: str | None, asked: dict[str, Any]
) -> str:
    """Return the fingerprint of all that enters a batch's forecast.

    Parameters
    ----------
    batch
        The fingerprint of what was known of the batch.
    heard
        Those of what was known then of the batches beside it (`RoomMates.as_known`).
    prior, calibration
        Those of what it is made by; None for what holds without a history.
    asked
        The rule, the scale's step and the days wanted, in plain values.
    """
    return fingerprint([VERSION, batch, list(heard), prior, calibration, asked])
