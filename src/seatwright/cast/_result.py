"""What the cast check answers: per unit how far it moved and turned, and how sure that is."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from seatwright.cast._budget import BudgetLine
from seatwright.cast._pairs import PairChange
from seatwright.cast._points import PointJudgement
from seatwright.cast._repeat_scans import ScanRepeatability
from seatwright.cast._scale import ScaleReport, percent_of
from seatwright.cast._told_length import ToldLength, tell_length
from seatwright.findings import Finding, Verdict
from seatwright.quantities import FloatArray, Measured, Transform

__all__ = ["MIXED_SHARE", "AlongAxes", "BodyMovement", "CastResult", "Overlap", "Reading", "UnitMovement"]

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
class AlongAxes:
    """A unit's raw motion along three named directions.

    Attributes
    ----------
    names : tuple of str
    directions : ndarray of shape (3, 3)
        Unit vectors as rows, in the reference's frame.
    shift_um, turn_deg : tuple of Measured
        Along and about each of them.
    """

    names: tuple[str, str, str]
    directions: FloatArray
    shift_um: tuple[Measured, ...]
    turn_deg: tuple[Measured, ...]


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
        Of (shift in mm, turn in rad), scan error, declared repeatability and length error, and frame together.
    about_mm : ndarray of shape (3,)
        Area-weighted centroid of the region in the reference.
    is_stable : bool
        Whether the unit is one of those that hold the frame.
    is_moved : bool
        Whether 'it did not move' is rejected, at 5 % false alarms a cast, a uniform scale of the cast taken out.
    verdict : Verdict
        Of the raw shift at the worst of its points against the tolerance: what a rigid framework would feel.
    u_worst_mm : float or None
        Largest standard uncertainty of the centroid's shift over all directions.
    own_shift_mm, u_own_shift_mm : ndarray of shape (3,) or None
        The shift with the scale of the lattice taken out: what the unit did by itself.
    chance_unmoved : float or None
        Probability of an own motion as unlikely as this one when the unit did not move (chi-square, six degrees).
    points : tuple of PointJudgement
        The shift at each of the unit's points, worst first; the verdict is that of the first.
    budget : tuple of BudgetLine
        Causes of the uncertainty of the shift at the first point, largest first.
    tooth_axes, patient_axes : AlongAxes or None
        The motion mesially, facially, occlusally, and to the patient's left, back and up; None when the units stand too
        few or in one line.
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
    own_shift_mm: FloatArray | None = None
    u_own_shift_mm: FloatArray | None = None
    chance_unmoved: float | None = None
    points: tuple[PointJudgement, ...] = ()
    budget: tuple[BudgetLine, ...] = ()
    tooth_axes: AlongAxes | None = None
    patient_axes: AlongAxes | None = None

    @property
    def told_shift(self) -> ToldLength | None:
        """Length of the shift where it is judged, as it is told in words, tables and pictures; None: not measured."""
        if self.points:
            return self.points[0].told
        if self.shift_mm is None or self.covariance is None:
            return None
        return tell_length(self.shift_mm, self.covariance[:3, :3])[0]

    def shown_shift(self) -> str:
        """Return the length of the shift where it is judged, as a person reads it."""
        told = self.told_shift
        return "not measured" if told is None else told.shown()

    @property
    def turn_size_deg(self) -> Measured | None:
        """Size of the turn, degrees, with the standard uncertainty of the worst determined axis."""
        if self.turn_deg is None or self.covariance is None:
            return None
        u_rad = math.sqrt(float(np.linalg.eigvalsh(self.covariance[3:, 3:])[-1]))
        return Measured(float(np.linalg.norm(self.turn_deg)), math.degrees(u_rad), "deg")


@dataclass(frozen=True, slots=True, eq=False)
class BodyMovement:
    """Movement of a splint, bridge or bar as one rigid body, about the mean place of its units.

    Fields as in `UnitMovement`.
    """

    teeth: tuple[str, ...]
    shift_mm: FloatArray
    turn_deg: FloatArray
    u_shift_mm: FloatArray
    u_turn_deg: FloatArray
    covariance: FloatArray
    about_mm: FloatArray
    own_shift_mm: FloatArray
    chance_unmoved: float
    is_stable: bool
    is_moved: bool
    dof: float = math.inf
    """Degrees of freedom behind the covariance."""

    @property
    def told_shift(self) -> ToldLength:
        """Length of the shift, as it is told."""
        return tell_length(self.shift_mm, self.covariance[:3, :3], dof=self.dof)[0]


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """What the movements would be if another group of units were the one that stayed.

    Attributes
    ----------
    stable_units : tuple of str
    shifts : mapping of tooth to ToldLength
        Length of the shift of each measured unit's centroid.
    """

    stable_units: tuple[str, ...]
    shifts: Mapping[str, ToldLength]


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
    scale : Measured or None
        How much larger (+) the lattice of stable bodies is in the poured cast, as a fraction; None with fewer than two.
        From four bodies on it is free; below, what pour and impression let expect takes part.
    uniform_chance : float or None
        Probability of a lattice as unevenly changed as this one if it only grew or shrank alike everywhere; None with
        fewer than four stable bodies.
    frame_center_mm : ndarray of shape (3,)
        Mean place of the stable bodies: a stable unit shows the scale times its distance from here.
    units : tuple of UnitMovement
        In the order of the regions.
    bodies : tuple of BodyMovement
        Splints, bridges and bars with two measured units or more.
    pairs : tuple of PairChange
        Distances and turns between units that are not one body: they need no frame.
    is_unique : bool
        Whether the stable units may say who moved: a majority, and no rival of nearly their size.
    rival : Reading or None
        The largest other group that agrees with itself at another pose, and what it would mean.
    overlap : Overlap
    noise_um, correlated_um, correlation_length_mm : float
        Scan error as found in the residuals: independent part, correlated part, its length.
    repeatability_um : float
        Part of every uncertainty here: as declared for both scans, or of one poured scan as repeats show it.
    is_repeatability_found : bool
        Whether it was found in repeat scans.
    length_error_um_per_mm : float
        As declared, both scans together; part of every uncertainty here. 0: none.
    tolerance_um : float
    findings : tuple of Finding
    dof : float
        Degrees of freedom behind the standard uncertainties (1000: as good as known).
    least_dof : float
        The same in the direction that is known least; by these a movement is told from an error.
    repeats : ScanRepeatability or None
        What several scans of the poured cast say of the scanner.
    scale_report : ScaleReport or None
        The scale from the scans alone and with what pour and impression let expect; None with fewer than two bodies.
    """

    T_reference_poured: Transform
    converged: bool
    stable_units: tuple[str, ...]
    stable_rms_um: float
    scale: Measured | None
    units: tuple[UnitMovement, ...]
    overlap: Overlap
    noise_um: float
    correlated_um: float
    correlation_length_mm: float
    repeatability_um: float
    tolerance_um: float
    findings: tuple[Finding, ...]
    uniform_chance: float | None = None
    frame_center_mm: FloatArray | None = None
    bodies: tuple[BodyMovement, ...] = ()
    pairs: tuple[PairChange, ...] = ()
    is_unique: bool = True
    rival: Reading | None = None
    dof: float = 1000.0
    least_dof: float = 1000.0
    repeats: ScanRepeatability | None = None
    is_repeatability_found: bool = False
    length_error_um_per_mm: float = 0.0
    scale_report: ScaleReport | None = None

    @property
    def scale_percent(self) -> Measured | None:
        """The scale in percent, as it is shown."""
        return None if self.scale is None else percent_of(self.scale)
