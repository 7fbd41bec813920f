"""Repeat scans of one cast: how well a unit's place and turn repeat.

Each repeat scan has its own frame; a motion common to all its units is no scatter of the units and is taken out
together with the units' mean places, with the degrees of freedom that this costs.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seatwright.cast._repeatability import spread_interval
from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.quantities import FloatArray, Measured

__all__ = [
    "RepeatPoses",
    "ScanRepeatability",
    "UnitSpread",
    "estimate_repeatability",
]

LEAST_DOF = 3.0  # judgement: from three on 1.96 standard deviations of a t law are Student's factor to 7 %
_LEAST_DOF = 1.0  # definition: a spread needs one degree of freedom at least
_N_ROUNDS = 30  # judgement: the variance components settle to six digits in fewer


@dataclass(frozen=True, slots=True, eq=False)
class RepeatPoses:
    """One unit's motion from the reference, as found on each repeat scan.

    Attributes
    ----------
    tooth : str
    about_mm : ndarray of shape (3,)
        Point about which the motions are given, in the reference's frame.
    scans : tuple of int
        Number of the repeat scan that each motion belongs to.
    motions : ndarray of shape (len(scans), 6)
        Shift in mm and rotation vector in rad, in the reference's axes. Any rigid motion may be common to the units of
        one scan.
    """

    tooth: str
    about_mm: FloatArray
    scans: tuple[int, ...]
    motions: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class UnitSpread:
    """Scatter of one unit over the repeat scans, its own residuals only.

    Attributes
    ----------
    tooth : str
    s_shift_um, s_turn_deg : ndarray of shape (3,)
        Standard deviations along and about the reference's axes.
    dof : ndarray of shape (6,)
        Degrees of freedom of each, after the common motions are taken out.
    """

    tooth: str
    s_shift_um: FloatArray
    s_turn_deg: FloatArray
    dof: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class ScanRepeatability:
    """Repeatability of a unit's place and turn between scans of the same cast (ISO 5725-1, 3.14).

    Attributes
    ----------
    n_scans, n_units : int
    s_shift_um, s_turn_deg : ndarray of shape (3,)
        Repeatability standard deviation of **one** scan along and about each axis of the reference, all units pooled.
    dof_shift, dof_turn : ndarray of shape (3,)
    shift_um, turn_deg : Measured
        All axes pooled: the value is s_r, its standard uncertainty s_r / sqrt(2 dof), its `dof` the pooled one.
    shift_interval_um, turn_interval_deg : tuple of float
        95 % interval of the pooled s_r by the chi-square law.
    units : tuple of UnitSpread
    """

    n_scans: int
    n_units: int
    s_shift_um: FloatArray
    s_turn_deg: FloatArray
    dof_shift: FloatArray
    dof_turn: FloatArray
    shift_um: Measured
    turn_deg: Measured
    shift_interval_um: tuple[float, float]
    units: tuple[UnitSpread, ...]
    turn_interval_deg: tuple[float, float] = (0.0, math.inf)

    @property
    def is_enough(self) -> bool:
        """Whether a standard uncertainty can be made of it: from three degrees of freedom on."""
        return min(self.shift_um.dof, self.turn_deg.dof) >= LEAST_DOF

    def covariance(self) -> FloatArray:
        """Covariance (6, 6), mm and rad, that it gives the pose of a unit on one scan, few degrees of freedom taken in.

        References
        ----------
        .. [1] JCGM 101:2008, 6.4.9.4 (variance of a t law: nu / (nu - 2) times s²); see decision record 0020.
        """
        shift, turn = (m.value**2 * m.dof / (m.dof - 2) for m in (self.shift_um, self.turn_deg))
        return np.diag([shift * 1e-6] * 3 + [turn * math.radians(1.0) ** 2] * 3)


def estimate_repeatability(units: Sequence[RepeatPoses]) -> ScanRepeatability:
    """Estimate the repeatability of unit poses from repeat scans of the same cast.

    Parameters
    ----------
    units : sequence of RepeatPoses
        At least two units, each found on at least two scans.

    Returns
    -------
    ScanRepeatability

    Raises
    ------
    CannotCompute
        If fewer than two units were found on two scans each, or the common motions leave no degree of freedom.

    Notes
    -----
    Motions are modelled as unit mean + rigid motion of the scan + scatter; the six variances (one per axis of shift and
    turn) are estimated by iterated least squares, each residual sum divided by its own redundancy. Nothing here says
    how true the scans are: errors common to all repeats stay hidden.

    References
    ----------
    .. [1] ISO 5725-1:1994, 3.14 (repeatability), ISO 5725-2:2019, 7.4.
    .. [2] Förstner W. Ein Verfahren zur Schätzung von Varianz- und Kovarianzkomponenten. Allg Verm-Nachr 1979;86:446.
    """
    kept = [unit for unit in units if len(unit.scans) > 1]
    if len(kept) < 2:
        raise CannotCompute(
            "fewer than two units were found on two scans each, so scatter and pose cannot be told apart",
            hint="scan the same cast again, at least three times, with all units on it",
        )
    for unit in kept:
        if unit.motions.shape != (len(unit.scans), 6) or not np.isfinite(unit.motions).all():
            raise ValueOutOfRange(f"unit {unit.tooth}: need one finite motion of six numbers per scan")
        if len(set(unit.scans)) < len(unit.scans):
            raise ValueOutOfRange(f"unit {unit.tooth}: a scan is named twice")
    design, observed = _build_model(kept)
    residual, redundancy = _fit_components(design, observed)
    _require_redundancy(redundancy)
    return _summarize(kept, residual.reshape(-1, 6), redundancy.reshape(-1, 6))


def _build_model(units: list[RepeatPoses]) -> tuple[FloatArray, FloatArray]:
    """Return the design (6 rows per motion: unit means, then motions of scans) and the stacked motions."""
    scans = sorted({scan for unit in units for scan in unit.scans})
    middle = np.mean([unit.about_mm for unit in units], axis=0)
    n_rows = 6 * sum(len(unit.scans) for unit in units)
    design = np.zeros((n_rows, 6 * (len(units) + len(scans))))
    row = 0
    for number, unit in enumerate(units):
        arm = np.asarray(unit.about_mm, dtype=float) - middle
        carried = np.eye(6)
        carried[:3, 3:] = -_cross_matrix(arm)
        for scan in unit.scans:
            column = 6 * (len(units) + scans.index(scan))
            design[row : row + 6, 6 * number : 6 * number + 6] = np.eye(6)
            design[row : row + 6, column : column + 6] = carried
            row += 6
    return design, np.concatenate([unit.motions.ravel() for unit in units])


def _cross_matrix(v: FloatArray) -> FloatArray:
    return np.array([[0.0, -v[2], v[1]], [v[2], 0.0, -v[0]], [-v[1], v[0], 0.0]])


def _fit_components(design: FloatArray, observed: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return residuals and their redundancy numbers at the settled variances of the six axes."""
    axis = np.arange(observed.size) % 6
    s = np.array([1e-2, 1e-2, 1e-2, 2e-3, 2e-3, 2e-3])  # where the iteration starts: 10 µm, 2 mrad
    residual, redundancy = observed, np.ones_like(observed)
    for _ in range(_N_ROUNDS):
        weight = 1 / s[axis]
        basis, strengths, _ = np.linalg.svd(weight[:, None] * design, full_matrices=False)
        basis = basis[:, strengths > 1e-9 * strengths[0]]
        scaled = weight * observed
        residual = (scaled - basis @ (basis.T @ scaled)) / weight
        redundancy = 1 - (basis**2).sum(axis=1)
        sums = np.bincount(axis, residual**2, 6)
        shares = np.bincount(axis, redundancy, 6)
        new = np.sqrt(sums / np.maximum(shares, 1e-9))
        floor = 1e-6 * max(float(new[:3].max()), 1e-9)
        new = np.maximum(new, floor)  # an axis without any scatter still needs a weight
        if np.allclose(new, s, rtol=1e-7):
            break
        s = new
    return residual, redundancy


def _require_redundancy(redundancy: FloatArray) -> None:
    if float(np.bincount(np.arange(redundancy.size) % 6, redundancy, 6).min()) < _LEAST_DOF:
        raise CannotCompute(
            "the motions common to each scan leave too little to estimate a scatter from",
            hint="scan the cast more often, or name more units",
        )


def _summarize(units: list[RepeatPoses], residual: FloatArray, redundancy: FloatArray) -> ScanRepeatability:
    to_shown = np.array([1e3, 1e3, 1e3, *[math.degrees(1.0)] * 3])
    dof = redundancy.sum(axis=0)
    s = np.sqrt((residual**2).sum(axis=0) / dof) * to_shown
    pooled = []
    for part in (slice(0, 3), slice(3, 6)):
        n = float(dof[part].sum())
        value = math.sqrt(float((residual[:, part] ** 2).sum()) / n) * float(to_shown[part][0])
        pooled.append((value, n))
    (shift, n_shift), (turn, n_turn) = pooled
    owner = np.repeat(np.arange(len(units)), [len(unit.scans) for unit in units])
    return ScanRepeatability(
        n_scans=len({scan for unit in units for scan in unit.scans}),
        n_units=len(units),
        s_shift_um=s[:3],
        s_turn_deg=s[3:],
        dof_shift=dof[:3],
        dof_turn=dof[3:],
        shift_um=Measured(shift, shift / math.sqrt(2 * n_shift), "µm", n_shift),
        turn_deg=Measured(turn, turn / math.sqrt(2 * n_turn), "deg", n_turn),
        shift_interval_um=spread_interval(shift, n_shift),
        turn_interval_deg=spread_interval(turn, n_turn),
        units=tuple(
            _unit_spread(unit, residual[owner == k], redundancy[owner == k], to_shown) for k, unit in enumerate(units)
        ),
    )


def _unit_spread(unit: RepeatPoses, residual: FloatArray, redundancy: FloatArray, to_shown: FloatArray) -> UnitSpread:
    dof = redundancy.sum(axis=0)
    s = np.sqrt((residual**2).sum(axis=0) / np.maximum(dof, 1e-9)) * to_shown
    return UnitSpread(unit.tooth, s[:3], s[3:], dof)
