"""Under which fingerprint what was learnt and what is foretold are kept: the same one, the same figures to the last digit."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from .batches import ForecastRule, RoomDay, WeighedBatch

# Changes with every change by which the same weighings give other figures.
VERSION = "cure-11"
# What is kept with a calibration besides its factors; changes with what is kept, when no figure does.
KEPT_WITH = "told again 1"


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


def plain_log(days: Sequence[RoomDay]) -> list[list[float | None]]:
    """Return a room's log as numbers and lists, as JSON keeps them."""
    return [[one.day, one.humidity_pct, one.temperature_c] for one in days]


def log_from_plain(plain: Sequence[Sequence[Any]]) -> tuple[RoomDay, ...]:
    """Return the log of which `plain_log` made this."""
    return tuple(RoomDay(*one) for one in plain)


class Prints:
    """Fingerprints of batches, each worked out once: by which object it is, for 1 and 1.0 are equal and written otherwise."""

    def __init__(self) -> None:
        self._known: dict[int, tuple[WeighedBatch, str]] = {}

    def of(self, batch: WeighedBatch) -> str:
        """Return what `print_of` says; the batch is kept, so that no other comes to be in its place."""
        if id(batch) not in self._known:
            self._known[id(batch)] = batch, print_of(batch)
        return self._known[id(batch)][1]


def print_of_prior(
    teaching: Sequence[WeighedBatch],
    *,
    step_g: float,
    earlier: str | None,
    logs: Mapping[str, str] | None = None,
    prints: Prints | None = None,
) -> str:
    """Return the fingerprint of what batches teach on a scale of that step; `earlier` is that of what it goes on from.

    `logs` are those of what they hear of the logs of their rooms, by name; without any it is as before there were logs.
    """
    by = print_of if prints is None else prints.of
    return fingerprint([VERSION, "prior", step_g, earlier, sorted(map(by, teaching)), *_with(logs)])


def print_of_calibration(
    history: Sequence[WeighedBatch],
    rule: ForecastRule,
    *,
    step_g: float,
    logs: Mapping[str, str] | None = None,
    prints: Prints | None = None,
) -> str:
    """Return the fingerprint of what replaying a history by a rule, with these logs, says of how wide ranges must be."""
    by = print_of if prints is None else prints.of
    return fingerprint([VERSION, "calibration", KEPT_WITH, step_g, rule.as_plain(), sorted(map(by, history)), *_with(logs)])


def _with(more: Any) -> list[Any]:
    return [more] if more else []


def print_of_forecast(
    batch: str,
    heard: Sequence[str],
    *,
    prior: str | None,
    calibration: str | None,
    asked: dict[str, Any],
    log: str | None = None,
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
    log
        That of the part of its room's log it hears; None where there is none.
    """
    return fingerprint([VERSION, batch, list(heard), prior, calibration, asked, *_with(log)])
