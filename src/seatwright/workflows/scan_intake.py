"""What a scan that is brought looks like before anybody relies on it: size, bodies, openness, faces; and its findings.

Owns what is worth a word to the person who confirms it. Knows no files and no units: sizes are in the file's own.
"""

from dataclasses import dataclass

from seatwright.findings import JUDGEMENT, Finding, Severity, Source, SourceKind, sort_findings
from seatwright.mesh import Surface, find_bodies, find_border_edges

__all__ = ["ScanLook", "examine_scan"]

_CRUMB_SHARE = 0.02  # judgement: pieces that are together larger may hold a unit
_DEGENERATE_SHARE = 0.01  # judgement: scanners leave a few slivers; more tells of a damaged export


@dataclass(frozen=True, slots=True)
class ScanLook:
    """A surface as it stands in its file.

    Attributes
    ----------
    n_triangles, n_points : int
    extent : (float, float, float)
        Sides of the box about it, in the file's own length unit.
    n_bodies : int
        Connected pieces.
    largest_share : float
        Share (0 to 1) of the triangles that are in the largest piece.
    n_border_edges : int
        Edges without exactly two triangles; 0: closed.
    n_turned_edges : int
        Edges whose two triangles are turned against each other.
    n_inside_out : int
        Closed pieces whose triangles look inwards.
    degenerate_share : float
        Share (0 to 1) of triangles without an area.
    findings : tuple of Finding
    """

    n_triangles: int
    n_points: int
    extent: tuple[float, float, float]
    n_bodies: int
    largest_share: float
    n_border_edges: int
    n_turned_edges: int
    n_inside_out: int
    degenerate_share: float
    findings: tuple[Finding, ...]


def examine_scan(surface: Surface) -> ScanLook:
    """Look at a surface whose vertices at one place are joined.

    Examples
    --------
    >>> import numpy as np
    >>> triangle = Surface(np.array([[0, 0, 0], [2.0, 0, 0], [0, 2, 0]]), np.array([[0, 1, 2]]))
    >>> examine_scan(triangle).n_border_edges
    3
    """
    bodies = find_bodies(surface)
    n_border = len(find_border_edges(surface))
    largest = int((bodies.of_face == 0).sum()) / surface.n_faces
    degenerate = surface.n_degenerate_faces / surface.n_faces
    n_inside_out = int(bodies.is_inside_out.sum())
    extent = surface.extent_mm
    return ScanLook(
        n_triangles=surface.n_faces,
        n_points=surface.n_vertices,
        extent=(float(extent[0]), float(extent[1]), float(extent[2])),
        n_bodies=bodies.n_bodies,
        largest_share=largest,
        n_border_edges=n_border,
        n_turned_edges=bodies.n_faults,
        n_inside_out=n_inside_out,
        degenerate_share=degenerate,
        findings=sort_findings(
            (
                *_judge_bodies(bodies.n_bodies, largest, n_inside_out),
                *_judge_faces(bodies.n_faults, degenerate),
                *_note_openness(n_border),
            )
        ),
    )


def _judge_bodies(n_bodies: int, largest: float, n_inside_out: int) -> list[Finding]:
    found = []
    if n_bodies > 1:
        grave = 1 - largest > _CRUMB_SHARE
        found.append(
            Finding(
                "scan-pieces",
                Severity.CAUTION if grave else Severity.NOTE,
                f"The scan is in {n_bodies} pieces; {100 * (1 - largest):.2g} % of it is outside the largest",
                why="a unit that is a piece of its own is measured like any other; floating scraps are not wanted",
                do="look at it; cut scraps away where it was scanned",
                source=JUDGEMENT,
            )
        )
    if n_inside_out:
        found.append(
            Finding(
                "scan-inside-out",
                Severity.WARNING,
                f"{n_inside_out} closed {'piece looks' if n_inside_out == 1 else 'pieces look'} inwards",
                why="proud and short would be told the wrong way round there",
                do="export the scan again with its faces outwards",
                source=Source(SourceKind.MEASURED),
            )
        )
    return found


def _judge_faces(n_turned: int, degenerate: float) -> list[Finding]:
    found = []
    if n_turned:
        found.append(
            Finding(
                "scan-turned-faces",
                Severity.CAUTION,
                f"At {n_turned} edges two triangles are turned against each other",
                why="outside and inside cannot be told there",
                do="export the scan again; measure no unit at such a place",
                source=Source(SourceKind.MEASURED),
            )
        )
    if degenerate > _DEGENERATE_SHARE:
        found.append(
            Finding(
                "scan-slivers",
                Severity.CAUTION,
                f"{100 * degenerate:.2g} % of the triangles have no area",
                why="a few are usual; so many tell of a damaged or doubly thinned export",
                do="export the scan again",
                source=JUDGEMENT,
            )
        )
    return found


def _note_openness(n_border: int) -> list[Finding]:
    what = f"The surface is open, with {n_border} edges at its border" if n_border else "The surface is closed"
    why = "a scan of an arch ends at its rim" if n_border else "the scan has a base, or was closed by its program"
    return [Finding("scan-border", Severity.NOTE, what, why=why, source=Source(SourceKind.MEASURED))]
