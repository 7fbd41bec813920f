"""What the uncertainty of a shift is made of, at the point where it is judged.

Owns the split into causes. Knows no verdict.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seatwright.cast._points import PointJudgement, lever_to
from seatwright.quantities import FloatArray

__all__ = ["BudgetLine", "Part", "declared_covariance", "list_budget"]


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One cause of the uncertainty of a shift.

    Attributes
    ----------
    cause : str
    u_um : float
        Standard uncertainty along the direction in which the shift is least known; the squares of all lines sum to its
        square.
    source : str
    """

    cause: str
    u_um: float
    source: str


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A cause with its share of a unit's covariance (6, 6), mm and rad about the centroid."""

    cause: str
    covariance: FloatArray
    source: str


def declared_covariance(repeatability_mm: float, over_mm: float, dof: float) -> FloatArray:
    """Return the part of a unit's covariance (6, 6) that the declared repeatability makes.

    Its turn is the shift's over `over_mm`; all of it is the variance of a t law with `dof` degrees of freedom.
    """
    turn = repeatability_mm / over_mm
    known = np.diag([repeatability_mm**2] * 3 + [turn**2] * 3)
    return known if math.isinf(dof) else known * (dof / (dof - 2))


def list_budget(judged: PointJudgement, about_mm: FloatArray, parts: Sequence[Part]) -> tuple[BudgetLine, ...]:
    """Return the causes behind the shift of one point, largest first; causes that add nothing are left out.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2 (variances of independent causes add), 7.2.7 (stating the budget).
    """
    lever = lever_to(judged.at_mm, about_mm)
    direction = np.linalg.eigh(judged.covariance_mm2)[1][:, -1]
    row = direction @ lever
    shares = [(part, float(row @ part.covariance @ row)) for part in parts]
    lines = [BudgetLine(part.cause, 1e3 * share**0.5, part.source) for part, share in shares if share > 0]
    return tuple(sorted(lines, key=lambda line: -line.u_um))
