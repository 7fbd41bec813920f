"""What has to be said about a surface before its undercuts are believed."""

import numpy as np
from numpy.typing import NDArray

from seatwright.findings import Finding, Severity, Source, SourceKind
from seatwright.mesh import Bodies, ReachWord, Surface, measure_look
from seatwright.survey._path import InsertionPath

__all__ = ["note_surface"]

_LEANS = 0.2  # judgement: below this share the normals cancel, as on a closed surface, and tell no direction
_MOSTLY = 0.55  # judgement: a closed ball has .5; a cast on its base, seen from the teeth, some .4
_USUAL_MM = (1.0, 1000.0)  # judgement: a cast is 40 to 120 mm across, a single die 5; beyond these the unit is in doubt
_MEASURED = Source(SourceKind.MEASURED)


def note_surface(
    surface: Surface, bodies: Bodies, path: InsertionPath, found: NDArray[np.uint8]
) -> tuple[Finding, ...]:
    """Return findings on bodies, borders, sense of faces, sign of the path, and what lies beyond the largest gap.

    `found` holds what was found at each vertex, as in `ReachWord`.
    """
    is_under = (found == ReachWord.MEASURED) | (found == ReachWord.BEYOND)
    under_share, mean_normal = measure_look(surface, is_under)
    n_beyond = int((found == ReachWord.BEYOND).sum())
    findings = [
        *_note_size(surface),
        *_note_sense(bodies),
        *_note_sign(float(mean_normal @ np.array(path.withdraw_direction))),
        *_note_bodies(bodies),
    ]
    if under_share > _MOSTLY:
        findings.append(
            Finding(
                "path-mostly-undercut",
                Severity.WARNING,
                f"{100 * under_share:.0f} % of the surface is undercut along this path",
                why="seen along a path of insertion a cast shows most of its surface",
                do="check the direction: --path is the way in which the partial moves to its seat, not the way out",
                source=_MEASURED,
            )
        )
    if n_beyond:
        findings.append(
            Finding(
                "undercut-beyond-reach",
                Severity.NOTE,
                f"{n_beyond} vertices have a deeper undercut than was looked for, or cannot be reached level",
                why="they are flagged, and carry the largest gap looked for in place of a value",
                do="give a larger --max-undercut-mm if they matter",
                source=_MEASURED,
            )
        )
    return tuple(findings)


def _note_size(surface: Surface) -> list[Finding]:
    findings = []
    size = float(surface.extent_mm.max())
    if not _USUAL_MM[0] <= size <= _USUAL_MM[1]:
        findings.append(
            Finding(
                "surface-size-unusual",
                Severity.WARNING,
                f"The surface is {size:.3g} mm across, if its numbers are millimeters",
                why="gauge bands of 0.25 to 0.75 mm mean nothing at the wrong scale; a cast is 40 to 120 mm across",
                do="export it in millimeters; a file in meters has numbers a thousand times too small",
                source=_MEASURED,
            )
        )
    if surface.n_degenerate_faces:
        findings.append(
            Finding(
                "faces-without-area",
                Severity.NOTE,
                f"{surface.n_degenerate_faces} of {surface.n_faces} faces have no area; they count for nothing",
                why="their corners are measured as the faces round them",
                source=_MEASURED,
            )
        )
    return findings


def _note_sense(bodies: Bodies) -> list[Finding]:
    findings = []
    n_inside_out = int(bodies.is_inside_out.sum())
    if n_inside_out:
        what = "The surface is inside out" if bodies.n_bodies == 1 else f"{n_inside_out} closed bodies are inside out"
        findings.append(
            Finding(
                "normals-inverted",
                Severity.WARNING,
                f"{what}: the faces look inwards; they were turned for measuring",
                why="which side is solid decides where a gauge can reach",
                do="export the surface with its faces turned outwards",
                source=_MEASURED,
            )
        )
    if bodies.n_faults:
        findings.append(
            Finding(
                "normals-mixed",
                Severity.WARNING,
                f"At {bodies.n_faults} edges the two faces are turned against each other",
                why="which side is solid decides where a gauge can reach; round these edges it is not known",
                do="mend the surface so that all faces look outwards",
                source=_MEASURED,
            )
        )
    return findings


def _note_sign(looks: float) -> list[Finding]:
    if looks > -_LEANS:
        return []
    return [
        Finding(
            "path-against-surface",
            Severity.WARNING,
            "The partial would come from behind the surface: the seat direction runs with the way that it looks",
            why=f"the mean normal has a share of {looks:.2f} along the withdraw direction; from in front it is above 0",
            do="give the direction in which the partial moves to its seat (not the way out), or turn the faces round",
            source=_MEASURED,
        )
    ]


def _note_bodies(bodies: Bodies) -> list[Finding]:
    findings = []
    if bodies.n_bodies > 1:
        findings.append(
            Finding(
                "several-bodies",
                Severity.NOTE,
                f"The surface is made of {bodies.n_bodies} separate bodies; all of them count",
                why="a body may hide another along the path; a vertex within another body is flagged",
                source=_MEASURED,
            )
        )
    n_open = int((~bodies.is_closed).sum())
    if n_open:
        which = "The surface is" if bodies.n_bodies == 1 else f"{n_open} of the bodies are"
        findings.append(
            Finding(
                "surface-open",
                Severity.NOTE,
                f"{which} open: beyond the rim nothing is known, and a gauge is taken to pass there",
                why="near the rim the undercut may read too small",
                source=_MEASURED,
            )
        )
    return findings
