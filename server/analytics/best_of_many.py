"""Which of many candidates gain more than the best of as many would by chance (definitions.md, Suggestion)."""

import numpy as np
import numpy.typing as npt

from server.analytics.intervals import RESAMPLES, SEED

Floats = npt.NDArray[np.float64]
FAMILY_LEVEL = 0.975  # one-sided, for all candidates together: the upper end of a 95 % interval


def stand_out(daily: Floats) -> npt.NDArray[np.bool_]:
    """For each candidate, shape (candidates, days) in and (candidates,) out, whether its mean daily gain is beyond what
    the greatest of all
    candidates reaches by chance.

    The bootstrap draws days again, the same ones for all candidates, and takes the greatest studentised deviation of
    any of them
    (P. H. Westfall and S. S. Young, Resampling-Based Multiple Testing, 1993; from memory). A gain is never thought
    surer than counts that vary by chance alone.
    """
    candidates, days = daily.shape
    if days < 2 or not candidates:
        return np.zeros(candidates, dtype=np.bool_)
    mean, error = _mean_and_error(daily.sum(axis=1), (daily**2).sum(axis=1), np.abs(daily).sum(axis=1), days)
    told = error > 0
    if not told.any():
        return np.zeros(candidates, dtype=np.bool_)
    drawn = np.random.default_rng(SEED).multinomial(days, [1 / days] * days, size=RESAMPLES).astype(np.float64)
    some = daily[told]
    means, errors = _mean_and_error(drawn @ some.T, drawn @ (some**2).T, drawn @ np.abs(some).T, days)
    deviation = means - mean[told]
    beyond = np.where(deviation > 0, np.inf, -np.inf)  # a draw of nothing but zeros has no error of its own
    np.divide(deviation, errors, out=beyond, where=errors > 0)
    limit = float(np.quantile(beyond.max(axis=1), FAMILY_LEVEL, method="higher"))
    found = np.zeros(candidates, dtype=np.bool_)
    found[told] = mean[told] / error[told] > limit
    return found


def _mean_and_error(total: Floats, squares: Floats, size: Floats, days: int) -> tuple[Floats, Floats]:
    """Mean of a day and its standard error, at least that of counts by chance (a Poisson count's variance is its
    mean)."""
    mean = total / days
    variance = np.maximum((squares / days - mean**2) / (days - 1), 0.0)
    return mean, np.sqrt(np.maximum(variance, size / days**2))
