"""Law of a body's squared distance from its frame, when its covariance is itself an estimate."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from seatwright.quantities import FloatArray, effective_dof

__all__ = ["CERTAIN", "Freedom", "chance_of_misfit", "gate_misfit", "join_freedom"]

_MOST_DOF = 1000.0  # judgement: as good as known


@dataclass(frozen=True, slots=True)
class Freedom:
    """Degrees of freedom behind the covariances of the poses.

    Attributes
    ----------
    common : float
        Of the size that all six directions share.
    least : float
        Of the variance in the direction in which the models of the scan error differ most. In each direction the
        covariances are those of the t law with its degrees of freedom.
    """

    common: float = math.inf
    least: float = math.inf


CERTAIN = Freedom()


def gate_misfit(n_tests: int, freedom: Freedom = CERTAIN) -> float:
    """Limit of the squared distance in six directions, 5 % false alarms over all tests of a cast together.

    The distance over six is taken to follow an F law with the least degrees of freedom of any direction: one direction
    that is poorly known makes the tail in which the limit lies, and an average over six hides it. Where the others are
    better known the limit is too high rather than too low. The covariance there is that of a t law, taken back first.

    References
    ----------
    .. [1] Anderson, An Introduction to Multivariate Statistical Analysis, 3rd ed. (2003), section 5.2 (quadratic form
       with an estimated scale).

    Examples
    --------
    >>> round(gate_misfit(10), 2), round(gate_misfit(14), 2)
    (18.49, 19.32)
    """
    level = 0.95 ** (1 / max(1, n_tests))
    if math.isinf(freedom.least):
        return float(stats.chi2.ppf(level, 6)) / _stretch(freedom)
    return float(6 * stats.f.ppf(level, 6, freedom.least)) / _stretch(freedom)


def chance_of_misfit(misfit: float, freedom: Freedom = CERTAIN) -> float:
    """Probability of a larger squared distance when nothing moved (see `gate_misfit`)."""
    distance = misfit * _stretch(freedom)
    if math.isinf(freedom.least):
        return float(stats.chi2.sf(distance, 6))
    return float(stats.f.sf(distance / 6, 6, freedom.least))


def join_freedom(freedom: Freedom, totals: Sequence[FloatArray], part: FloatArray, dof: float) -> Freedom:
    """Freedom of covariances of which one part, with degrees of freedom of its own, was added to what `freedom` tells.

    Parameters
    ----------
    freedom : Freedom
        Of the rest.
    totals : sequence of ndarray of shape (6, 6)
        The sums, unit by unit.
    part : ndarray of shape (6, 6)
        The part added, in all units alike.
    dof : float
        Behind the part.

    References
    ----------
    .. [1] JCGM 100:2008, G.4.1, formula (G.2b), with the part's share of the variance, direction by direction.
    """
    common, least = [], []
    for total in totals:
        back = np.linalg.inv(np.linalg.cholesky(total))
        shares = np.clip(np.linalg.eigvalsh(back @ part @ back.T), 0.0, 1.0)
        common.append(_joined(float(shares.mean()), freedom.common, dof))
        least.append(min(_joined(float(share), freedom.least, dof) for share in shares))
    return Freedom(
        min(_MOST_DOF, float(np.mean(common))), min(_MOST_DOF, float(np.mean(least)), float(np.mean(common)))
    )


def _joined(share: float, rest: float, dof: float) -> float:
    return effective_dof(np.sqrt([1 - share, share]), [rest, dof])


def _stretch(freedom: Freedom) -> float:
    """Covariance of a t law over the square of its scale (JCGM 101:2008, 6.4.9.4)."""
    return 1.0 if math.isinf(freedom.least) else freedom.least / (freedom.least - 2)
