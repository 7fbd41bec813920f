"""The dimensional chain as random causes: each one number that moves some features by so much.

Owns the joint law of all errors. Refuses to know where a cause comes from.
"""

from dataclasses import dataclass

import numpy as np

from seatwright.forecast._bodies import Body
from seatwright.forecast._features import Feature
from seatwright.quantities import FloatArray, Law

__all__ = ["Cause", "Chain"]


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause.

    Attributes
    ----------
    name : str
        Unique; also names its stream of random numbers.
    link : str
        Id of the link it belongs to.
    law : Law
    unit : str
        Unit of the law.
    loading : ndarray of shape (6 * n_features,)
        Errors per unit of the cause: mm and rad.
    evidence : tuple of str
        Ids of the records behind its law.
    """

    name: str
    link: str
    law: Law
    unit: str
    loading: FloatArray
    evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Chain:
    """All causes with the features and bodies they act on."""

    features: tuple[Feature, ...]
    bodies: tuple[Body, ...]
    causes: tuple[Cause, ...]
    center_mm: FloatArray
    """Center that scale errors grow from; any choice gives the same seating."""
    correlation: FloatArray | None = None
    """Of the causes, shape (n_causes, n_causes); None while all are independent."""

    @property
    def loading(self) -> FloatArray:
        """Loadings as columns, shape (6 * n_features, n_causes)."""
        return np.column_stack([c.loading for c in self.causes])

    @property
    def u(self) -> FloatArray:
        """Standard deviation of each cause, shape (n_causes,)."""
        return np.array([c.law.u for c in self.causes])

    @property
    def mean(self) -> FloatArray:
        """Mean error vector, shape (6 * n_features,)."""
        mean: FloatArray = self.loading @ np.array([c.law.mean for c in self.causes])
        return mean

    @property
    def covariance(self) -> FloatArray:
        """Covariance of the error vector."""
        scaled = self.loading * self.u
        covariance: FloatArray = scaled @ scaled.T if self.correlation is None else scaled @ self.correlation @ scaled.T
        return covariance

    @property
    def correlated(self) -> tuple[int, ...]:
        """Indices of the causes that are correlated with another one."""
        if self.correlation is None:
            return ()
        apart = np.any(np.abs(self.correlation - np.eye(len(self.causes))) > 0, axis=1)
        return tuple(int(i) for i in np.flatnonzero(apart))

    def covariance_of(self, indices: tuple[int, ...]) -> FloatArray:
        """Return the covariance of some causes, shape (k, k)."""
        u = self.u[list(indices)]
        if self.correlation is None:
            return np.diag(u**2)
        part: FloatArray = self.correlation[np.ix_(indices, indices)] * np.outer(u, u)
        return part

    def columns_by_link(self) -> dict[str, list[int]]:
        """Return the causes that vary, by link, in the chain's order."""
        columns: dict[str, list[int]] = {}
        for k, cause in enumerate(self.causes):
            if cause.law.u > 0:
                columns.setdefault(cause.link, []).append(k)
        return columns
