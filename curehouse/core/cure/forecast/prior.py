"""What is taken to hold of a batch before it is weighed: plain frozen data, to be kept and compared."""

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Weights of the damp's long and of its quick spells, that of short ones being 1: see `damp`.
Mix = tuple[float, float]

# The level, and what shifts it: water share over .2, cosine and sine of the season of the cut, how the room's air dries.
COVARIATES = 5
DRYING = 4
CURVE = 3


@dataclass(frozen=True, slots=True)
class Prior:
    """A workshop's prior.

    The curve of a batch is (log F, log tau, log n): the share of the water that leaves, the time in
    days, the shape. Each is a sum over (1, water share - .2, cos, sin of the season, the air's drying,
    its formula) plus what is the batch's own.

    Attributes
    ----------
    formulas
        Names of the formulas with batches of their own.
    coefficients
        (3 x (5 + formulas)), row by row flattened.
    coefficient_cov
        Their covariance, flattened row by row.
    batch_cov
        Covariance between batches of a formula (3 x 3), flattened.
    formula_sd
        Spread between formulas of the three.
    bar_sd
        Spread between bars of a batch of (log F, log tau).
    size_sd
        Relative spread of the bars' weights at the cut.
    room_sd, session_sd, reading_sd
        Relative spread of the room's damp, of what one session has in common, and of one reading.
    mix
        Of what spells the room's damp is made.
    logged_room_sd
        Spread of the damp that a log of the room leaves unexplained.
    damp_effect
        Share of weight a bar gains for 10 points of relative humidity; nought where no log has shown its worth.
    tail
        Degrees of freedom of Student's t by which readings and sessions scatter: few, and one far off says little.
    odd_share, odd_scale
        Share of batches that follow no rule, and how much wider they lie.
    learnt_from
        Number of batches it was learnt from.
    """

    formulas: tuple[str, ...]
    coefficients: tuple[float, ...]
    coefficient_cov: tuple[float, ...]
    batch_cov: tuple[float, ...]
    formula_sd: tuple[float, ...]
    bar_sd: tuple[float, float]
    size_sd: float
    room_sd: float
    session_sd: float
    reading_sd: float
    mix: Mix
    logged_room_sd: float
    damp_effect: float
    tail: float
    odd_share: float
    odd_scale: float
    learnt_from: int = 0

    def as_plain(self) -> dict[str, Any]:
        """Return it as numbers, names and lists, as JSON keeps them."""
        return {name: list(value) if isinstance(value, tuple) else value for name, value in asdict(self).items()}

    @classmethod
    def from_plain(cls, plain: dict[str, Any]) -> "Prior":
        """Return the prior of which `as_plain` made this."""
        values: dict[str, Any] = {name: tuple(value) if isinstance(value, list) else value for name, value in plain.items()}
        return cls(**values)

    def damp(self, *, logged: bool) -> tuple[float, Mix]:
        """Return the spread and the make of the damp that is left to chance, with a log of the room or without."""
        return (self.logged_room_sd if logged else self.room_sd), self.mix

    def width(self) -> int:
        """Return the number of coefficients of one curve parameter."""
        return COVARIATES + len(self.formulas)

    def coefficient_array(self) -> Floats:
        """Return the coefficients as (3, width)."""
        return np.asarray(self.coefficients).reshape(CURVE, self.width())

    def middle(self, design: Floats) -> Floats:
        """Return the mean (N, 3) of a batch's curve, `design` as in `expected`."""
        out: Floats = (design[:, None, :] * self.coefficient_array()).sum(axis=2)
        return out

    def expected(self, design: Floats, known: NDArray[np.bool_]) -> tuple[Floats, Floats]:
        """Return mean (N, 3) and covariance (N, 3, 3) of a batch's curve.

        Parameters
        ----------
        design
            (N, width) rows of `design_rows`.
        known
            (N,) whether the formula has batches of its own.
        """
        width = self.width()
        cov = np.asarray(self.coefficient_cov).reshape(CURVE, width, CURVE, width).transpose(0, 2, 1, 3).copy()
        # One product for each batch: a matrix product over all of them would round otherwise for one than for many.
        across = (design[:, None, None, None, :] @ cov)[..., 0, :]  # (N, 3, 3, width)
        spread = (across * design[:, None, None, :]).sum(axis=3) + np.asarray(self.batch_cov).reshape(CURVE, CURVE)
        mean = self.middle(design)
        new = np.diag(np.asarray(self.formula_sd) ** 2)
        return mean, spread + np.where(known, 0.0, 1.0)[:, None, None] * new


# Most of the water leaves, in three weeks, slower than an exponential: the middle of what histories teach, and how far
# they lie apart. This, what water does (nought where that is within two standard errors) and the room's damp are
# printed by `tests/benchmarks/settle_constants.py`.
_COLD_MEAN = (np.log(0.67), np.log(20.5), np.log(0.785))
_COLD_MEAN_SD = (0.10, 0.25, 0.19)
_COLD_BATCH_SD = (0.09, 0.28, 0.10)
_COLD_FORMULA_SD = (0.12, 0.30, 0.08)
# A wetter bar loses more of its water, and sooner.
_COLD_WATER = (1.6, -2.1, 0.0)
_COLD_WATER_SD = (1.0, 2.0, 1.0)
_COLD_SEASON_SD = (0.05, 0.10, 0.03)
# What the air's drying does is for the house's own batches to show.
_COLD_AIR_SD = (0.10, 0.40, 0.05)
_COLD_ROOM_SD = 0.0022
_COLD_MIX = (1.0, 1.0)


def cold_prior() -> Prior:
    """Return the prior of a workshop that has weighed nothing yet."""
    coefficients = np.zeros((CURVE, COVARIATES))
    coefficients[:, 0] = _COLD_MEAN
    coefficients[:, 1] = _COLD_WATER
    sds = [[_COLD_MEAN_SD[i], _COLD_WATER_SD[i], _COLD_SEASON_SD[i], _COLD_SEASON_SD[i], _COLD_AIR_SD[i]] for i in range(CURVE)]
    spread = np.square(sds)
    return Prior(
        formulas=(),
        coefficients=tuple(coefficients.ravel().tolist()),
        coefficient_cov=tuple(np.diag(spread.ravel()).ravel().tolist()),
        batch_cov=tuple(np.diag(np.square(_COLD_BATCH_SD)).ravel().tolist()),
        formula_sd=_COLD_FORMULA_SD,
        bar_sd=(0.02, 0.08),
        size_sd=0.04,
        room_sd=_COLD_ROOM_SD,
        session_sd=0.0012,
        reading_sd=0.0008,
        mix=_COLD_MIX,
        logged_room_sd=_COLD_ROOM_SD,
        damp_effect=0.0,
        tail=4.0,
        odd_share=0.1,
        odd_scale=3.0,
    )
