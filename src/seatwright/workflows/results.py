"""What a dossier is made of: every step's result at one moment, gathered as one value.

Owns the shape of what figures and papers draw from. Refuses to know how any of it was computed or will be shown.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from seatwright.case import Arch, AxisPair, Bench, Case, CaseState, Scan, SupportResult
from seatwright.cast import CastResult, DeviationFigures
from seatwright.dies import DieResult
from seatwright.findings import Finding, Severity
from seatwright.forecast import ForecastResult
from seatwright.mesh import Surface
from seatwright.pour import PourResult
from seatwright.quantities import FloatArray
from seatwright.survey import PathSurvey
from seatwright.workflows.caliper import ByHand
from seatwright.workflows.ports import InputFile
from seatwright.workflows.survey import SurfaceSurvey
from seatwright.workflows.timetable import BenchDay

__all__ = ["CastStep", "Dossier", "Hollow", "JobStep", "ScanName"]


@dataclass(frozen=True, slots=True)
class ScanName:
    """What the drawings need to know of a scan that belongs to no case."""

    id: str
    arch: Arch


@dataclass(frozen=True, slots=True, eq=False)
class CastStep:
    """One cast check with what is needed to draw it.

    Attributes
    ----------
    reference_scan, poured_scan : Scan or ScanName
        The two scans as the case names them, or as loose files are called.
    result : CastResult
    reference : Surface
        The reference surface, its own frame, mm.
    deviation_um : ndarray of shape (n_vertices,)
        Signed distance from each reference vertex to the registered poured surface, positive outwards.
    deviation_known : ndarray of shape (n_vertices,), bool
        False where no poured surface faces the vertex; `deviation_um` means nothing there.
    figures : tuple of DeviationFigures
        Of the whole reference and of each unit.
    """

    reference_scan: Scan | ScanName
    poured_scan: Scan | ScanName
    result: CastResult
    reference: Surface
    deviation_um: FloatArray
    deviation_known: NDArray[np.bool_]
    figures: tuple[DeviationFigures, ...] = ()


@dataclass(frozen=True, slots=True)
class JobStep:
    """One word of the row beneath the arch.

    Attributes
    ----------
    name : str
        ``pick-up``, ``dies``, ``pour``, ``cast`` and so on, in the order of the job.
    word : str
        The verdict in one or two words; ``not yet`` when there is none.
    severity : Severity or None
        None when the step has no verdict yet; NOTE when all is well.
    when : datetime or None
        When it happened, or is due.
    """

    name: str
    word: str
    severity: Severity | None = None
    when: datetime | None = None


@dataclass(frozen=True, slots=True)
class Hollow:
    """The one number that matters now, as it stands in the hollow of the arch.

    Attributes
    ----------
    number : str
        Such as ``8 min left`` or ``180.2 ± 9.6 µm``.
    caption : str
        What it is and what it is held against: ``14 needed``, ``43 stands high; 50 allowed``.
    """

    number: str
    caption: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Dossier:
    """Everything known of one case at `now`.

    Attributes
    ----------
    headline : str
        One sentence: verdict and what to do.
    headline_severity : Severity
    hollow : Hollow
    job : tuple of JobStep
        All steps of the job in order, those not yet done included.
    findings : tuple of Finding
        All findings of all steps, gravest first.
    day : BenchDay or None
        Timetable of what is left at the bench; None when nothing is, or none can be made.
    no_day : str
        Why none can be made; empty otherwise.
    fit : ForecastResult or None
        Forecast of the seating, narrowed by the last cast check; None where nothing can be forecast.
    path : PathSurvey or None
        The path of insertion and what it means; None when none is asked for, then `no_path` says why.
    no_path : str
    path_scan : SurfaceSurvey or None
        The reference scan along that path: undercuts, tripod marks, parallel block-out.
    no_fit : str
        Why nothing can be forecast; empty otherwise.
    by_hand : ByHand or None
        What caliper and foil say, where the case names such readings.
    tooth_labels : mapping of int to str
        How each tooth number is shown in the chosen notation; ISO 3950 where absent.
    """

    case: Case
    bench: Bench
    state: CaseState
    now: datetime
    inputs: tuple[InputFile, ...]
    support: SupportResult
    axes: tuple[AxisPair, ...]
    dies: DieResult
    pour: PourResult
    casts: tuple[CastStep, ...]
    headline: str
    headline_severity: Severity
    hollow: Hollow
    job: tuple[JobStep, ...]
    findings: tuple[Finding, ...]
    day: BenchDay | None = None
    no_day: str = ""
    fit: ForecastResult | None = None
    no_fit: str = ""
    path: PathSurvey | None = None
    path_scan: SurfaceSurvey | None = None
    no_path: str = ""
    by_hand: ByHand | None = None
    tooth_labels: Mapping[int, str] = field(default_factory=dict)

    def label(self, tooth: int) -> str:
        """Return the tooth's number in the chosen notation."""
        return self.tooth_labels.get(tooth, str(tooth))
