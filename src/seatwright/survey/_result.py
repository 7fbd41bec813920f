"""What the survey of paths answers: the window, the path, and what that path means for each thing planned."""

from dataclasses import dataclass

from seatwright.arch import OcclusalFrame
from seatwright.findings import Finding, Verdict
from seatwright.quantities import FloatArray
from seatwright.survey._best import RankedPath, TradeOff
from seatwright.survey._clasps import ClaspReading
from seatwright.survey._framework import FrameworkSurvey
from seatwright.survey._measures import PathMeasures, PathWeights
from seatwright.survey._path import InsertionPath
from seatwright.survey._tilt import Tilt
from seatwright.survey._window import PathWindow

__all__ = ["AttachmentFit", "AttachmentWindow", "PathAnswer", "PathSurvey", "PlaneFit"]


@dataclass(frozen=True, slots=True, eq=False)
class AttachmentWindow:
    """What one rigid attachment admits by itself.

    Attributes
    ----------
    id, kind : str
    withdraw_direction : (float, float, float)
        Its own axis.
    tilt : Tilt or None
        The axis on the tilting table; None when it leans 90 degrees or more.
    length_mm, gap_per_side_um, clearance_total_um : float
        Guided length along the wall; room on each side when centered; both sides together.
    taper_deg : float
    centered_deg : float
        Tilt of the path it admits when the male is centered at seat: taper + atan(gap per side / length).
    floating_deg : float
        The same when it may seat against one wall: taper + atan(2 gap / length).
    outline_deg : ndarray of shape (k, 2)
        Edge of its own centered window as projected angles (posterior, left); empty when it lies beyond the search.
    """

    id: str
    kind: str
    withdraw_direction: tuple[float, float, float]
    tilt: Tilt | None
    length_mm: float
    gap_per_side_um: float
    clearance_total_um: float
    taper_deg: float
    centered_deg: float
    floating_deg: float
    outline_deg: FloatArray


@dataclass(frozen=True, slots=True)
class AttachmentFit:
    """One attachment at one path.

    `says` is ``enters centered``, ``enters against one wall`` or ``does not enter``; `side_shift_um` is how far the
    path leads the male sideways over its guided length.
    """

    id: str
    angle_deg: float
    side_shift_um: float
    says: str


@dataclass(frozen=True, slots=True)
class PlaneFit:
    """One guide plane at one path.

    Attributes
    ----------
    id : str
    tooth : int
    opens_deg : float
        Angle by which the plane opens along the path; negative when it leans into it.
    undercut_mm : float
        Depth at the foot of its height when it leans in; 0 otherwise.
    contact_lost_mm : float
        Gap at its upper edge when it opens.
    says : str
        ``parallel``, ``opens``, ``leans in`` or ``not read``.
    """

    id: str
    tooth: int
    opens_deg: float
    undercut_mm: float
    contact_lost_mm: float
    says: str


@dataclass(frozen=True, slots=True)
class PathAnswer:
    """One path and what it means.

    Attributes
    ----------
    seat_direction, withdraw_direction : (float, float, float)
        The way the partial moves to its seat, and its opposite.
    tilt : Tilt
        From the occlusal plane.
    how : str
        ``fixed``, ``center``, ``best`` or ``by hand``.
    because : str
        In words.
    is_inside, is_inside_floating : bool
        Whether the rigid attachments are entered with every male centered, or with one common float.
    attachments, planes, clasps : tuple
        What it means for each.
    measures : PathMeasures or None
        On the scan; None without one.
    trade_offs : tuple of TradeOff
        What a degree towards each side would change; empty without a scan.
    """

    seat_direction: tuple[float, float, float]
    withdraw_direction: tuple[float, float, float]
    tilt: Tilt
    how: str
    because: str
    is_inside: bool
    is_inside_floating: bool
    attachments: tuple[AttachmentFit, ...]
    planes: tuple[PlaneFit, ...]
    clasps: tuple[ClaspReading, ...]
    measures: PathMeasures | None
    trade_offs: tuple[TradeOff, ...]

    @property
    def insertion(self) -> InsertionPath:
        """The path as a value."""
        return InsertionPath(self.seat_direction)


@dataclass(frozen=True, slots=True)
class PathSurvey:
    """Window, path and consequences.

    Attributes
    ----------
    frame : OcclusalFrame
    max_tilt_deg : float
    attachments : tuple of AttachmentWindow
    window : PathWindow
        With every male centered at seat: the default.
    window_floating : PathWindow or None
        With one common float; None when no attachment guides.
    verdict : Verdict
        Whether one path serves all rigid attachments.
    is_fixed : bool
        Whether the attachments leave nothing to choose.
    fixed_by : tuple of str
    path : PathAnswer or None
        None when no path serves all attachments, or them and the framework, and none was chosen by hand.
    weights : PathWeights
        How much each measure counted.
    ranked : tuple of RankedPath
        The best paths found, best first; empty when the path was not searched.
    framework : FrameworkSurvey or None
        Where a framework mesh enters and how it seats; None when none was given.
    no_path : str
        Why there is no path, as a headline; empty when there is one.
    findings : tuple of Finding
    """

    frame: OcclusalFrame
    max_tilt_deg: float
    attachments: tuple[AttachmentWindow, ...]
    window: PathWindow
    window_floating: PathWindow | None
    verdict: Verdict
    is_fixed: bool
    fixed_by: tuple[str, ...]
    path: PathAnswer | None
    weights: PathWeights
    ranked: tuple[RankedPath, ...]
    framework: FrameworkSurvey | None
    no_path: str
    findings: tuple[Finding, ...]
