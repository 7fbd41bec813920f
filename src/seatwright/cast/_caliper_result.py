"""What the caliper check answers: movements of marks, distances, networks, each with its uncertainty."""

from dataclasses import dataclass

from seatwright.cast._caliper_asked import CaliperAsked, Epoch
from seatwright.cast._caliper_verdict import ShiftJudgement
from seatwright.cast._gauge_study import GaugeStudy
from seatwright.cast._network_movement import Congruency
from seatwright.cast._network_tests import GlobalTest
from seatwright.cast._repeatability import PooledSpread
from seatwright.findings import Finding, Verdict
from seatwright.quantities import FloatArray, Measured

__all__ = [
    "BlindDirection",
    "CaliperResult",
    "ChangeReport",
    "EpochReport",
    "MarkMovement",
    "PairReport",
    "ReadingSpread",
    "StableReport",
]


@dataclass(frozen=True, slots=True)
class PairReport:
    """One distance in both epochs; needs no frame and no other distance.

    Attributes
    ----------
    first, second : str
    reference_mm, cast_mm : float or None
        Means of the readings that count; None where not read.
    n_reference, n_cast : int
    change_um : Measured or None
        Cast minus reference.
    verdict : Verdict
        Of the change's size against the tolerance.
    p_within : float or None
        Probability that the change lies within the tolerance.
    redundancy : tuple of (float or None)
        In the reference's and the cast's network: share of an error here that the other distances would show.
    w : tuple of (float or None)
        Normalized residuals there.
    detectable_um : tuple of (float or None)
        Smallest error of this distance that the others would find; None where they cannot.
    is_set_aside : bool
        Whether its change was left out as contradicted by all others.
    """

    first: str
    second: str
    reference_mm: float | None
    cast_mm: float | None
    n_reference: int
    n_cast: int
    change_um: Measured | None
    verdict: Verdict
    p_within: float | None
    redundancy: tuple[float | None, float | None] = (None, None)
    w: tuple[float | None, float | None] = (None, None)
    detectable_um: tuple[float | None, float | None] = (None, None)
    is_set_aside: bool = False


@dataclass(frozen=True, slots=True)
class EpochReport:
    """The network of one epoch.

    Attributes
    ----------
    epoch : Epoch
    n_distances, n_redundant, defect : int
        Distances used, those beyond need, and rigid motions that distances cannot see (taken out by minimum norm).
    test : GlobalTest
        Whether the distances fit each other.
    suspects : tuple of str
        Distances that contradict the others: one when it can be told which, several when it cannot.
    mirrored : tuple of str
        Marks whose mirrored place fits as well.
    converged : bool
    """

    epoch: Epoch
    n_distances: int
    n_redundant: int
    defect: int
    test: GlobalTest
    suspects: tuple[str, ...]
    mirrored: tuple[str, ...]
    converged: bool


@dataclass(frozen=True, slots=True)
class ChangeReport:
    """Whether the changes of the distances fit each other.

    Attributes
    ----------
    test : GlobalTest
    suspects : tuple of str
        Changes of which one is wrong, when it cannot be told which.
    """

    test: GlobalTest
    suspects: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class BlindDirection:
    """A direction in which a mark's movement could not be judged.

    Attributes
    ----------
    mark : str
    words : str
        Direction in words, such as 'out of the plane of the marks'.
    u_um : float or None
        Standard uncertainty of the movement there; None when nothing at all is seen.
    """

    mark: str
    words: str
    u_um: float | None


@dataclass(frozen=True, slots=True, eq=False)
class MarkMovement:
    """One mark's movement from the reference to the cast, in the frame of the stable marks.

    Attributes
    ----------
    mark : str
    place_mm : ndarray of shape (d,)
        In the sketch's axes.
    moved_um : ndarray of shape (d,)
    covariance_um2 : ndarray of shape (d, d)
    is_stable, is_moved : bool
        Moved: outside the set of marks that kept their figure. Neither where that set is open.
    judged : ShiftJudgement
        Of the directions that are seen.
    detectable_um : tuple of (float or None)
        Half-axes of the ellipse of movements found with 80 % power, smallest first; None along an axis that the mark
        itself helps to hold, so that no movement can show there.
    detectable_axes : ndarray of shape (d, d)
        Their directions, in columns.
    """

    mark: str
    place_mm: FloatArray
    moved_um: FloatArray
    covariance_um2: FloatArray
    is_stable: bool
    is_moved: bool
    judged: ShiftJudgement
    detectable_um: tuple[float | None, ...]
    detectable_axes: FloatArray


@dataclass(frozen=True, slots=True)
class ReadingSpread:
    """What one reading and one distance are worth.

    Attributes
    ----------
    repeats : PooledSpread or None
        From repeated readings, mm; None when nothing was repeated.
    resolution_mm : float
        Step of the readings.
    s_reading_um : float
        Standard deviation of one reading as used: from repeats, at least the step over root twelve.
    u_distance_um : float
        Declared part that repeats do not show.
    s_operators_um : float
        Part that differs between operators from distance to distance.
    dof : float or None
        Effective degrees of freedom of a distance's uncertainty; None when it is declared.
    inflation : float
        Factor by which the uncertainty was raised because the changes fit each other worse than stated; 1: not.
    """

    repeats: PooledSpread | None
    resolution_mm: float
    s_reading_um: float
    u_distance_um: float
    s_operators_um: float
    dof: float | None
    inflation: float


@dataclass(frozen=True, slots=True)
class StableReport:
    """Which marks hold the frame.

    Attributes
    ----------
    marks, rival : tuple of str
    is_unique : bool
        False: which marks moved is open.
    is_declared : bool
        Named by the person.
    overall, own : Congruency
        Test of the whole figure, and of the stable marks alone.
    scaled : Congruency or None
        Test of the whole figure when a uniform scale is allowed.
    with_scale : bool
        Whether the stable marks agree only when a uniform scale is allowed.
    """

    marks: tuple[str, ...]
    rival: tuple[str, ...]
    is_unique: bool
    is_declared: bool
    overall: Congruency
    own: Congruency
    scaled: Congruency | None
    with_scale: bool


@dataclass(frozen=True, slots=True, eq=False)
class CaliperResult:
    """The caliper check: did any mark move between the mouth and the cast.

    Attributes
    ----------
    verdict : Verdict
    headline : str
        The answer in one sentence.
    reference : Epoch
        Mouth or index.
    n_axes : int
        Dimensions in which marks were placed; 0 when they could not be.
    n_axes_because : str
    marks : tuple of MarkMovement
        Empty when the readings fix no figure; then the pairs remain.
    pairs : tuple of PairReport
    epochs : tuple of EpochReport
    change : ChangeReport or None
    spread : ReadingSpread
    stable : StableReport or None
    scale_percent : Measured or None
        How much larger (+) the stable marks stand on the cast.
    zero_um : Measured or None
        Change that all distances share whatever their length, where it alone explains them: the caliper's zero.
    blind : tuple of BlindDirection
    loose : tuple of str
        Marks with too few distances to be placed.
    gauge : GaugeStudy or None
        Of several operators, mm.
    asked : CaliperAsked
    findings : tuple of Finding
    """

    verdict: Verdict
    headline: str
    reference: Epoch
    n_axes: int
    n_axes_because: str
    marks: tuple[MarkMovement, ...]
    pairs: tuple[PairReport, ...]
    epochs: tuple[EpochReport, ...]
    change: ChangeReport | None
    spread: ReadingSpread
    stable: StableReport | None
    scale_percent: Measured | None
    zero_um: Measured | None
    blind: tuple[BlindDirection, ...]
    loose: tuple[str, ...]
    gauge: GaugeStudy | None
    asked: CaliperAsked
    findings: tuple[Finding, ...]

    @property
    def largest_unseen_um(self) -> float | None:
        """Largest movement of any mark that may well stay unseen (80 % power), µm; None when no mark is placed."""
        return max((v for mark in self.marks for v in mark.detectable_um if v is not None), default=None)
