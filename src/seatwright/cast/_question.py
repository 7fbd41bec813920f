"""What a cast check may be told beside the scans: rigid bodies, who is stable, what the pour lets expect."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from seatwright.cast._consensus import SCALE_PRIOR
from seatwright.cast._points import Mark
from seatwright.cast._scale import ScaleExpectation
from seatwright.quantities import Measured

__all__ = ["CastQuestion"]


@dataclass(frozen=True, slots=True)
class CastQuestion:
    """What a cast check may be told beside the scans.

    Attributes
    ----------
    bodies : tuple of tuple of str
        Units that are one rigid body (bridge, splint, bar), by tooth; a unit in no body stands alone.
    stable : tuple of str
        Units that hold the frame by the user's word; empty: the largest set that agrees.
    marks : tuple of Mark
        Points at which units are judged; a unit without one is judged at its centroid.
    scale_prior : Measured
        Scale of the lattice that pour and impression let expect, as a fraction; used below four stable bodies only.
    expected_scale : ScaleExpectation, optional
        What stone and impression of this very pour let expect, told beside the scale found; no motion rests on it.
    length_error_um_per_mm : float
        Most by which the scanners may be wrong over a distance, µm per mm of it, both scans together (root sum of
        squares of the two); 0: none is declared.
    reseats_um : mapping of tooth to float
        Units whose crowns were off and put back between the two scans, with the standard uncertainty per axis that this
        adds to their place.
    """

    bodies: tuple[tuple[str, ...], ...] = ()
    stable: tuple[str, ...] = ()
    marks: tuple[Mark, ...] = ()
    scale_prior: Measured = SCALE_PRIOR
    expected_scale: ScaleExpectation | None = None
    reseats_um: Mapping[str, float] = field(default_factory=dict)
    length_error_um_per_mm: float = 0.0
