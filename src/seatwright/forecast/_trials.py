"""Random trials of the chain: every cause has its own named stream, so adding a link changes no other's numbers."""

from zlib import crc32

import numpy as np

from seatwright.forecast._chain import Chain
from seatwright.quantities import FloatArray, Normal

__all__ = ["JointDraws", "draw_causes", "draw_errors", "stream"]

_ROUNDING = 1e-12  # judgement: directions of a correlation below this share of the largest are rounding, not spread


def stream(seed: int, name: str) -> np.random.Generator:
    """Return the stream of random numbers of one cause under one seed."""
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, crc32(name.encode())])))


def draw_causes(chain: Chain, seed: int, n: int) -> FloatArray:
    """Return n draws of every cause, shape (n, n_causes); correlated ones are jointly normal."""
    joint = list(chain.correlated)
    drawn: FloatArray = np.empty((n, len(chain.causes)))
    for k in sorted(set(range(len(chain.causes))) - set(joint)):
        drawn[:, k] = chain.causes[k].law.draw(stream(seed, chain.causes[k].name), n)
    if joint and chain.correlation is not None:
        means = np.array([chain.causes[k].law.mean for k in joint])
        normal = np.column_stack([stream(seed, chain.causes[k].name).standard_normal(n) for k in joint])
        drawn[:, joint] = means + normal @ _root(chain.correlation[np.ix_(joint, joint)]).T * chain.u[joint]
    return drawn


def draw_errors(chain: Chain, seed: int, n: int) -> FloatArray:
    """Return n error vectors, shape (n, 6 * n_features), mm and rad."""
    errors: FloatArray = draw_causes(chain, seed, n) @ chain.loading.T
    return errors


def _root(matrix: FloatArray) -> FloatArray:
    """Return the symmetric square root of a correlation matrix, which may be singular."""
    values, vectors = np.linalg.eigh(matrix)
    values = np.where(values > values.max(initial=0.0) * _ROUNDING, values, 0.0)
    root: FloatArray = (vectors * np.sqrt(values)) @ vectors.T
    return root


class JointDraws:
    """Draws of a few linear measurands y = c x of the causes, fast.

    Normal causes are drawn together as one joint normal law of the measurands, exact since the model is linear; the
    others are drawn one by one.

    Parameters
    ----------
    coefficients : ndarray of shape (n_measurands, n_causes)
    """

    def __init__(self, chain: Chain, coefficients: FloatArray) -> None:
        causes = chain.causes
        joint = set(chain.correlated)
        is_normal = np.array([isinstance(c.law, Normal) or k in joint for k, c in enumerate(causes)])
        touches = np.any(coefficients != 0, axis=0)
        self.mean = coefficients @ np.array([c.law.mean for c in causes])
        scaled = (coefficients * chain.u)[:, is_normal]
        among = None if chain.correlation is None else chain.correlation[np.ix_(is_normal, is_normal)]
        values, vectors = np.linalg.eigh(scaled @ scaled.T if among is None else scaled @ among @ scaled.T)
        keep = values > values.max(initial=0.0) * 1e-14
        self._other = [c for k, c in enumerate(causes) if not is_normal[k] and touches[k]]
        columns = coefficients[:, [k for k in range(len(causes)) if not is_normal[k] and touches[k]]]
        self._n_normal = int(keep.sum())
        self._mixing = np.hstack([vectors[:, keep] * np.sqrt(values[keep]), columns])

    def __call__(self, rng: np.random.Generator, n: int) -> FloatArray:
        """Return n draws of all measurands, shape (n_measurands, n)."""
        drawn: FloatArray = np.empty((self.mean.size, n))
        for first in range(0, n, _BLOCK):
            size = min(_BLOCK, n - first)
            independent = np.empty((self._mixing.shape[1], size))
            rng.standard_normal(out=independent[: self._n_normal])
            for i, cause in enumerate(self._other):
                independent[self._n_normal + i] = cause.law.draw(rng, size) - cause.law.mean
            np.matmul(self._mixing, independent, out=drawn[:, first : first + size])
        drawn += self.mean[:, None]
        return drawn


_BLOCK = 50_000  # judgement: trials at a time, so that they stay in the cache
