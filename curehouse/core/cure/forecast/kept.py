"""What is kept of a forecast so that it can be made again to the last digit: what was learnt, and of what it was made."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from .batches import ForecastRule, WeighedBatch
from .beside import RoomMates
from .calibrating import calibrated
from .humidity import RoomLog, Rooms, log_of
from .learning import learn
from .prior import Prior, cold_prior
from .ranges import Calibration

# Changes with every change by which the same weighings give other figures.
VERSION = "cure-4"


@dataclass(frozen=True, slots=True)
class Learnt:
    """What a workshop's batches taught, to be kept as JSON.

    Attributes
    ----------
    prior, calibration
        As `foretell` takes them.
    version
        Of the forecast that learnt it.
    fingerprint
        Of the weighings, the rule, the scale's step and the logs it was learnt from.
    """

    prior: Prior
    calibration: Calibration
    version: str
    fingerprint: str

    def as_plain(self) -> dict[str, Any]:
        """Return it as numbers, names and lists, as JSON keeps them."""
        return {
            "version": self.version,
            "fingerprint": self.fingerprint,
            "prior": self.prior.as_plain(),
            "calibration": self.calibration.as_plain(),
        }

    @classmethod
    def from_plain(cls, plain: dict[str, Any]) -> "Learnt":
        """Return what `as_plain` made this of, exactly.

        Raises
        ------
        ValueError
            If another version of the forecast learnt it: it must be learnt anew.
        """
        if plain["version"] != VERSION:
            raise ValueError(f"learnt by version {plain['version']} of the forecast, this is {VERSION}: learn it anew")
        return cls(
            Prior.from_plain(plain["prior"]),
            Calibration.from_plain(plain["calibration"]),
            plain["version"],
            plain["fingerprint"],
        )


def taught(
    batches: Sequence[WeighedBatch],
    rule: ForecastRule,
    *,
    step_g: float,
    room: Rooms | None = None,
    earlier: Learnt | None = None,
) -> Learnt:
    """Return what batches teach, finished or not; `earlier` itself if that is made of the same.

    Parameters
    ----------
    batches, rule, step_g, room
        As in `calibrated`.
    earlier
        What is kept already.
    """
    ordered = sorted(batches, key=lambda batch: batch.key)
    logs = {batch.key: None if (log := log_of(batch, room)) is None else _log(log) for batch in ordered}
    made_of = _digest([VERSION, cold_prior().as_plain(), [_batch(one) for one in ordered], rule.as_plain(), step_g, logs])
    if earlier is not None and earlier.fingerprint == made_of:
        return earlier
    prior = learn(ordered, step_g=step_g, room=room)
    wide = calibrated(ordered, cold_prior(), rule, step_g=step_g, room=room)
    return Learnt(prior, wide, VERSION, made_of)


def made_of(
    batch: WeighedBatch,
    learnt: Learnt,
    rule: ForecastRule,
    *,
    step_g: float,
    days: Sequence[float] = (),
    room: Rooms | None = None,
    beside: RoomMates | None = None,
) -> str:
    """Return the fingerprint of all that enters a batch's forecast: the same one, the same figures.

    Of room-mates and of the room's log that is what was known on the day the batch was last weighed.

    Parameters
    ----------
    learnt
        The prior and the calibration it is made by.
    rule, step_g, days, room, beside
        As in `foretell`.
    """
    log = log_of(batch, room)
    known: Any = None
    if log is not None and batch.cut_day is not None:
        upto = int(batch.cut_day + round(batch.last_day)) - log.first + 1
        known = _log(log, upto)
    mates = [] if beside is None else [_batch(one) for one in beside.heard(batch)]
    how = [learnt.version, learnt.prior.as_plain(), learnt.calibration.as_plain(), rule.as_plain(), step_g, list(days)]
    return _digest([how, _batch(batch), mates, known])


def _batch(batch: WeighedBatch) -> dict[str, Any]:
    return replace(batch, bars=tuple(sorted((bar for bar in batch.bars if bar.days), key=lambda bar: bar.label))).as_plain()


def _log(log: RoomLog, upto: int | None = None) -> list[Any]:
    return [log.first, log.points[:upto].tolist(), log.drying[:upto].tolist()]


def _digest(parts: Any) -> str:
    text = json.dumps(parts, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()
