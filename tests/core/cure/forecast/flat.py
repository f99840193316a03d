"""A prior that knows next to nothing, for records that are no soap: any time unit, any floor."""

from dataclasses import replace

import numpy as np

from curehouse.core.cure.forecast.prior import COVARIATES, CURVE, Prior, cold_prior

# Of all that is there, nearly all might leave; the floor says what does.
SHARE = 0.95
GAUSSIAN = 1e12


def flat_prior(
    span: float,
    *,
    noise: float,
    shape_sd: float = 0.3,
    spread: float = 3.0,
    bar_sd: float = 1e-8,
    gone: float = 0.4,
    session: float = 1e-6,
) -> Prior:
    """Return a prior by which a record of a span, in its own unit of time, may approach any floor at any rate.

    `noise` is the relative scatter of a reading, `spread` the log spread of amount and time, `shape_sd` that of the
    exponent around 1 (nought but for rounding: exactly an exponential), `gone` the share that has left, as a start,
    `session` what the readings of one moment have in common.
    """
    mean = np.zeros((CURVE, COVARIATES))
    mean[:, 0] = np.log(gone / SHARE), np.log(span / 2), 0.0
    cov = np.zeros((CURVE * COVARIATES,) * 2)
    sds = np.array([spread, spread, max(shape_sd, 1e-7)])
    return replace(
        cold_prior(),
        coefficients=tuple(mean.ravel().tolist()),
        coefficient_cov=tuple(cov.ravel().tolist()),
        batch_cov=tuple(np.diag(sds**2).ravel().tolist()),
        formula_sd=(1e-7,) * 3,
        bar_sd=(bar_sd, bar_sd),
        size_sd=1.0,
        room_sd=0.0,
        logged_room_sd=0.0,
        session_sd=session,
        reading_sd=noise,
        tail=GAUSSIAN,
        odd_share=1e-9,
    )
