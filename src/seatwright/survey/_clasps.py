"""How deep a clasp tip shall engage for its form and alloy, and what a path offers it.

Owns the table of depths and the comparison with what the gauge reads. Refuses to know where the reading comes from.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from seatwright.case import Clasp, ClaspAlloy, ClaspApproach, ClaspForm
from seatwright.evidence import find_evidence, source_of
from seatwright.findings import Finding, Severity, Source, SourceKind

__all__ = ["ClaspReading", "TipReading", "WantedDepth", "judge_clasps", "note_off_scan", "wanted_depth"]

_LONG_ARM_MM = 8.0  # evidence: survey_003
_AGREES_MM = 0.1  # judgement: less than half a step of the gauges 0.25, 0.50, 0.75 mm
_NOTHING_MM = 0.05  # judgement: what a gauge cannot tell from no undercut
_UNBALANCED_MM = 0.15  # judgement: a difference between the sides that a bench would feel
_GAUGES_MM = (0.25, 0.5, 0.75)  # evidence: survey_004


@dataclass(frozen=True, slots=True)
class WantedDepth:
    """Depth of undercut that an arm shall engage, and where that comes from."""

    depth_mm: float
    source: Source
    note: str = ""


@dataclass(frozen=True, slots=True)
class TipReading:
    """What a gauge reads at a tip, with its standard uncertainty; `how` is ``scan`` or ``gauge``."""

    undercut_mm: float
    u_mm: float
    how: str


@dataclass(frozen=True, slots=True)
class ClaspReading:
    """One planned tip at one path.

    Attributes
    ----------
    clasp : str
    tooth : int
    wanted_mm : float
        For its form and alloy, or as the case states.
    wanted_source : Source
    wanted_note : str
        Other teaching, or a condition that was assumed.
    reads_mm : float or None
        Undercut at the tip along this path; None when neither a scan nor a gauge reading tells.
    u_mm : float
        Standard uncertainty of the reading.
    how : str
        ``scan``, ``gauge`` or empty.
    says : str
        ``as wanted``, ``none``, ``shallow``, ``deep`` or ``not read``.
    """

    clasp: str
    tooth: int
    wanted_mm: float
    wanted_source: Source
    wanted_note: str
    reads_mm: float | None
    u_mm: float
    how: str
    says: str


def wanted_depth(clasp: Clasp) -> WantedDepth:
    """Return the depth a retentive arm shall engage: what the case states, else the table's.

    Examples
    --------
    >>> clasp = Clasp(id="c", tooth=44, surface="facial", approach="suprabulge", form="cast", alloy="cobalt_chromium")
    >>> wanted_depth(clasp).depth_mm
    0.25
    """
    if clasp.wanted_undercut_mm is not None:
        return WantedDepth(clasp.wanted_undercut_mm, Source(SourceKind.CASE, f"clasp {clasp.id}"))
    record, note = _row(clasp)
    return WantedDepth(find_evidence(record).require_value(), source_of(record), note)


def _row(clasp: Clasp) -> tuple[str, str]:
    if clasp.form is ClaspForm.WROUGHT:
        if clasp.arm_mm is not None and clasp.arm_mm >= _LONG_ARM_MM:
            return "survey_003", "other teaching: 0.5 mm"
        return "survey_006", "0.75 mm only where the arm is 8 mm or longer; its length is not stated or shorter"
    if clasp.alloy in (ClaspAlloy.GOLD, ClaspAlloy.TITANIUM):
        return "survey_007_gold", ""
    return ("survey_002" if clasp.approach is ClaspApproach.INFRABULGE else "survey_001"), ""


def judge_clasps(
    clasps: Sequence[Clasp], reads: Mapping[str, TipReading]
) -> tuple[tuple[ClaspReading, ...], tuple[Finding, ...]]:
    """Compare what each tip reads at a path with what its arm wants; also left against right.

    Parameters
    ----------
    clasps : sequence of Clasp
    reads : mapping of clasp id to TipReading
        Undercut at the tip; a clasp without one is reported as not read.
    """
    readings = tuple(_read(c, reads.get(c.id)) for c in clasps)
    findings = [f for r, c in zip(readings, clasps, strict=True) if (f := _say(r, c)) is not None]
    findings += _balance(readings)
    return readings, tuple(findings)


def note_off_scan(off_scan: Sequence[tuple[str, float]]) -> tuple[Finding, ...]:
    """Say which tips are marked too far off the scan to be read; pairs of clasp id and distance in mm."""
    return tuple(
        Finding(
            "survey-tip-off-scan",
            Severity.CAUTION,
            f"The tip of {name} is marked {away:.1f} mm off the scan: its undercut is not read.",
            do="Correct tip_mm, or read it with a gauge (--gauge).",
            source=Source(SourceKind.CASE, f"clasp {name}"),
            about=name,
        )
        for name, away in off_scan
    )


def _read(clasp: Clasp, read: TipReading | None) -> ClaspReading:
    wanted = wanted_depth(clasp)
    told = (clasp.id, clasp.tooth, wanted.depth_mm, wanted.source, wanted.note)
    if read is None:
        return ClaspReading(*told, None, 0.0, "", "not read")
    if read.undercut_mm < _NOTHING_MM:
        says = "none"
    elif abs(read.undercut_mm - wanted.depth_mm) <= _AGREES_MM:
        says = "as wanted"
    else:
        says = "shallow" if read.undercut_mm < wanted.depth_mm else "deep"
    return ClaspReading(*told, read.undercut_mm, read.u_mm, read.how, says)


def _say(reading: ClaspReading, clasp: Clasp) -> Finding | None:
    if reading.says in ("as wanted", "not read") or reading.reads_mm is None:
        return None
    what = f"At this path {reading.clasp} on {reading.tooth} reads {reading.reads_mm:.2f} mm"
    why = f"its arm wants {reading.wanted_mm:.2f} mm"
    if reading.says == "none":
        what = f"At this path {reading.clasp} on {reading.tooth} has no undercut to hold in"
        do = "move the tip below the survey line, or use another tooth; a tilt would not serve the guides"
    elif reading.says == "shallow":
        do = "change the arm or the gauge, not the tilt: move the tip down, or plan a stiffer or shorter arm"
    else:
        do = f"change the arm or the gauge, not the tilt: move the tip up{_softer(clasp, reading.reads_mm)}"
    return Finding(
        "survey-clasp-depth", Severity.CAUTION, f"{what}.", f"{why}.", f"{do}.", reading.wanted_source, reading.clasp
    )


def _softer(clasp: Clasp, reads_mm: float) -> str:
    if clasp.form is ClaspForm.CAST and reads_mm <= max(_GAUGES_MM) + _AGREES_MM:
        return ", or plan a softer arm (bar clasp, gold, wrought wire)"
    return ", or block the depth out to what the arm wants"


def _balance(readings: Sequence[ClaspReading]) -> list[Finding]:
    sides: dict[str, list[float]] = {"right": [], "left": []}
    for r in readings:
        if r.reads_mm is not None and r.says != "none":
            sides["right" if r.tooth // 10 in (1, 4) else "left"].append(r.reads_mm - r.wanted_mm)
    if not (sides["right"] and sides["left"]):
        return []
    right, left = (sum(v) / len(v) for v in (sides["right"], sides["left"]))
    if abs(right - left) <= _UNBALANCED_MM:
        return []
    more, less = ("right", "left") if right > left else ("left", "right")
    return [
        Finding(
            "survey-clasp-balance",
            Severity.CAUTION,
            f"Against what each wants, the clasps hold {abs(right - left):.2f} mm deeper on the {more} than {less}.",
            "A partial held on one side turns out of its seat about the other.",
            f"Deepen on the {less} or raise the tips on the {more}.",
        )
    ]
