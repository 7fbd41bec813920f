"""What the cast check answers: per unit how far it moved and turned, and how sure that is."""

import math
from dataclasses import dataclass

import numpy as np

from seatwright.findings import Finding, Verdict
from seatwright.quantities import FloatArray, Measured, Transform

__all__ = ["MIXED_SHARE", "CastResult", "Overlap", "UnitMovement"]

# judgement: the biweight at 4.685 sigma keeps nearly all of one body; an eighth outside its cut is another body
MIXED_SHARE = 0.88


@dataclass(frozen=True, slots=True)
class Overlap:
    """How much of the two scans lies on each other at the global pose.

    Attributes
    ----------
    reference_share, poured_share : float
        Share (0 to 1) of each scan's sample points that find the other within `reach_mm` with a like normal.
    n_reference, n_poured : int
        Sample points asked.
    reach_mm : float
    rival_share : float
        `poured_share` of the second-best distinct pose over that of the best (0 when there is none).
    close_share : float
        The same share within `close_mm`, of the scan of which more is found.
    close_mm : float
    """

    reference_share: float
    poured_share: float
    n_reference: int
    n_poured: int
    reach_mm: float
    rival_share: float
    close_share: float
    close_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class UnitMovement:
    """Movement of one unit from the reference to the poured cast.

    A point x of the unit in the reference lies at R (x - c) + c + s in the poured cast, seen in the reference's frame:
    s is `shift_mm`, R the turn by the rotation vector `turn_deg`, c is `about_mm`.

    Attributes
    ----------
    tooth : str
    is_measured : bool
        False when too little of the unit was found; then the motion and its uncertainty are None.
    shift_mm, turn_deg : ndarray of shape (3,) or None
    u_shift_mm, u_turn_deg : ndarray of shape (3,) or None
        Standard uncertainties along the reference's axes.
    covariance : ndarray of shape (6, 6) or None
        Of (shift in mm, turn in rad), scan error, declared repeatability and frame together.
    about_mm : ndarray of shape (3,)
        Area-weighted centroid of the region in the reference.
    is_stable : bool
        Whether the unit is one of those that hold the frame.
    is_moved : bool
        Whether 'it did not move' is rejected, at 5 % false alarms a cast, a uniform scale of the cast taken out.
    verdict : Verdict
        Of the shift's length against the tolerance, with the worst axis' uncertainty.
    u_worst_mm : float or None
        Largest standard uncertainty of the shift over all directions; the verdict uses it.
    weak_turn_axis : ndarray of shape (3,) or None
        Unit vector about which the turn is hardly determined, if there is one.
    residual_rms_um : float
        Of the unit's points after its own fit, inside the robust cut.
    n_points : int
        Matched points, both ways.
    coverage : float
        Share (0 to 1) of the region's vertices found on the poured cast.
    inlier_share : float
        Share (0 to 1) of the points near the unit that move as one; low when the region holds two bodies.
    """

    tooth: str
    is_measured: bool
    shift_mm: FloatArray | None
    turn_deg: FloatArray | None
    u_shift_mm: FloatArray | None
    u_turn_deg: FloatArray | None
    covariance: FloatArray | None
    about_mm: FloatArray
    is_stable: bool
    is_moved: bool
    verdict: Verdict
    u_worst_mm: float | None
    weak_turn_axis: FloatArray | None
    residual_rms_um: float
    n_points: int
    coverage: float
    inlier_share: float

    @property
    def shift_length_um(self) -> Measured | None:
        """Length of the shift, µm, with the standard uncertainty of the worst direction, as the verdict uses it."""
        if self.shift_mm is None or self.u_worst_mm is None:
            return None
        return Measured(float(np.linalg.norm(self.shift_mm)) * 1000.0, self.u_worst_mm * 1000.0, "µm")

    @property
    def turn_size_deg(self) -> Measured | None:
        """Size of the turn, degrees, with the standard uncertainty of the worst determined axis."""
        if self.turn_deg is None or self.covariance is None:
            return None
        u_rad = math.sqrt(float(np.linalg.eigvalsh(self.covariance[3:, 3:])[-1]))
        return Measured(float(np.linalg.norm(self.turn_deg)), math.degrees(u_rad), "deg")


@dataclass(frozen=True, slots=True, eq=False)
class CastResult:
    """The cast check: did any unit move between reference and poured cast.

    Attributes
    ----------
    T_reference_poured : ndarray of shape (4, 4)
        Maps poured coordinates to the reference's frame; fixed by the stable units.
    converged : bool
        Every measured unit's fit came to rest.
    stable_units : tuple of str
        Teeth of the largest set of units that agree with each other.
    stable_rms_um : float
        Root mean square distance of reference and poured surface over the stable units, in the common frame.
    scale_percent : Measured or None
        How much larger (+) the lattice of stable units is in the poured cast; None with fewer than four.
    units : tuple of UnitMovement
        In the order of the regions.
    overlap : Overlap
    noise_um, correlated_um, correlation_length_mm : float
        Scan error as found in the residuals: independent part, correlated part, its length.
    repeatability_um : float
        As declared; part of every uncertainty here.
    tolerance_um : float
    findings : tuple of Finding
    """

    T_reference_poured: Transform
    converged: bool
    stable_units: tuple[str, ...]
    stable_rms_um: float
    scale_percent: Measured | None
    units: tuple[UnitMovement, ...]
    overlap: Overlap
    noise_um: float
    correlated_um: float
    correlation_length_mm: float
    repeatability_um: float
    tolerance_um: float
    findings: tuple[Finding, ...]
