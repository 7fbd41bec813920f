"""Relief: a pad of even thickness over part of a surface, by wire gauge; and what to do in wax where nothing prints."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.mesh import Surface, keep_faces, measure_face_normals, measure_vertex_normals, measure_volume_mm3
from seatwright.survey._blockout import BlockOut

__all__ = ["ReliefPad", "list_wax_steps", "make_relief", "wire_gauge_mm"]

_THICKEST_MM = 5.0  # judgement: 6-gauge wax has 4.1 mm; evidence: survey_019
# definition: the wire gauge divides the step from No. 36 (0.127 mm) to No. 0000 (92 times that) into 39 equal ratios
_NOTHING_MM3 = 0.5  # judgement: a drop that no trimmer leaves
_GAUGE_36_MM, _GAUGE_RATIO, _GAUGE_STEPS = 0.127, 92.0, 39.0


@dataclass(frozen=True, slots=True, eq=False)
class ReliefPad:
    """A pad of even thickness.

    Attributes
    ----------
    solid : Surface
        Closed, faces outwards, in the surface's frame.
    thickness_mm : float
    area_mm2, volume_mm3 : float
        Of the surface covered, and of the pad.
    n_folded : int
        Faces that turn over when moved out: hollows narrower than the pad is thick, where it overlaps itself.
    """

    solid: Surface
    thickness_mm: float
    area_mm2: float
    volume_mm3: float
    n_folded: int


def wire_gauge_mm(gauge: int) -> float:
    """Return the thickness of sheet wax of a wire gauge, mm.

    Raises
    ------
    ValueOutOfRange
        If the gauge lies outside 0 to 40.

    References
    ----------
    .. [1] ASTM B258, definition of the American wire gauge: d_n = 0.127 mm x 92^((36 - n)/39).

    Examples
    --------
    >>> [round(wire_gauge_mm(n), 3) for n in (6, 24, 30)]
    [4.115, 0.511, 0.255]
    """
    if not 0 <= gauge <= 40:
        raise ValueOutOfRange(f"no sheet wax has gauge {gauge}", hint="24 to 30 are usual for relief")
    return float(_GAUGE_36_MM * _GAUGE_RATIO ** ((36 - gauge) / _GAUGE_STEPS))


def make_relief(surface: Surface, on_faces: NDArray[np.bool_], *, thickness_mm: float) -> ReliefPad:
    """Cover faces of a surface with a pad of even thickness.

    Parameters
    ----------
    surface : Surface
    on_faces : ndarray of shape (n_faces,), bool
        What is covered; not all of a closed surface.
    thickness_mm : float
        Square to the surface, above 0 to 5 mm; see `wire_gauge_mm`.

    Raises
    ------
    ValueOutOfRange
        If the thickness is out of range, or no face is chosen.
    CannotCompute
        If the faces chosen meet each other only at a point or along an edge with more than two, so that no pad with one
        skin stands on them.

    Notes
    -----
    Each vertex moves along its angle-weighted normal so far that, on average, the faces round it move by the
    thickness; the rim is closed by a wall.
    """
    if not (np.isfinite(thickness_mm) and 0 < thickness_mm <= _THICKEST_MM):
        raise ValueOutOfRange(f"a relief of {thickness_mm} mm is none", hint="0.25 to 1 mm is usual")
    if on_faces.shape != (surface.n_faces,) or not on_faces.any():
        raise ValueOutOfRange("a relief needs at least one face to lie on", hint="choose the faces under the part")
    patch = keep_faces(surface, np.asarray(on_faces, dtype=np.bool_))
    normals, faces = measure_vertex_normals(patch), patch.faces.astype(np.int64)
    face_normals = measure_face_normals(patch)
    share = np.zeros(patch.n_vertices)
    count = np.zeros(patch.n_vertices)
    for k in range(3):
        np.add.at(share, faces[:, k], np.einsum("ij,ij->i", normals[faces[:, k]], face_normals))
        np.add.at(count, faces[:, k], 1.0)
    outward = normals * (thickness_mm / np.maximum(share / np.maximum(count, 1.0), 0.5))[:, None]
    rim = _find_rim(faces, patch.n_vertices)
    n = patch.n_vertices
    walls = np.vstack(
        [
            np.column_stack([rim[:, 0], rim[:, 1], rim[:, 1] + n]),
            np.column_stack([rim[:, 0], rim[:, 1] + n, rim[:, 0] + n]),
        ]
    )
    solid = Surface(
        np.vstack([patch.vertices_mm, patch.vertices_mm + outward]), np.vstack([faces[:, ::-1], faces + n, walls])
    )
    try:
        volume = measure_volume_mm3(solid)
    except CannotCompute as error:
        raise CannotCompute(
            "the faces chosen for relief do not form a sheet with a clean rim", hint="choose a connected patch"
        ) from error
    moved = measure_face_normals(Surface(solid.vertices_mm[n:], patch.faces))
    folded = int((np.einsum("ij,ij->i", moved, face_normals) < 0).sum())
    corners = patch.vertices_mm[faces]
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1).sum() / 2
    return ReliefPad(solid, thickness_mm, float(area), volume, folded)


def _find_rim(faces: NDArray[np.int64], n_vertices: int) -> NDArray[np.int64]:
    """Edges with one face, in the sense in which that face runs along them, (k, 2)."""
    start, end = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    _, inverse, counts = np.unique(
        np.minimum(start, end) * n_vertices + np.maximum(start, end), return_inverse=True, return_counts=True
    )
    single = counts[inverse] == 1
    return np.column_stack([start[single], end[single]])


def list_wax_steps(fill: BlockOut | None, pads: tuple[ReliefPad, ...] = ()) -> tuple[str, ...]:
    """Return what to do in wax, in order, where there is no printer or mill; common practice of the bench.

    Parameters
    ----------
    fill : BlockOut or None
        None, or one without a volume worth trimming, asks for no block-out.
    pads : tuple of ReliefPad
    """
    steps = ["Set the tilting table until the three tripod marks touch the blade at one height; lock it."]
    if fill is not None and fill.volume_mm3 < _NOTHING_MM3:
        steps.append("No undercut to block out along this path; check that with the rod before you leave the wax away.")
    elif fill is not None:
        tool = "the parallel trimmer" if fill.taper_deg == 0 else f"the {fill.taper_deg:g} degree trimmer"
        steps += [
            "Dry the cast and seal it; flow block-out wax below the survey line wherever a rigid part will pass.",
            f"Trim the wax with {tool} held along the path, down to the tissue; some {fill.volume_mm3:.0f} mm³ stay.",
            "Leave the tooth above the survey line clean: check that the trimmer's shaft touches tooth there, not wax.",
        ]
        if fill.n_ledges:
            steps.append(
                f"Carve a level ledge at the lower border of each clasp arm ({fill.n_ledges}), so that its pattern "
                "finds its place; above the ledge the tooth stays bare."
            )
    for pad in pads:
        steps.append(f"Lay {_sheet(pad.thickness_mm)} over {pad.area_mm2:.0f} mm², seal its edges, do not thin it.")
    steps.append("Heat and soaking may lift wax off stone: follow the makers of wax, stone and duplicating material.")
    return tuple(steps)


def _sheet(thickness_mm: float) -> str:
    gauge = 36 - _GAUGE_STEPS * np.log(thickness_mm / _GAUGE_36_MM) / np.log(_GAUGE_RATIO)
    is_whole = abs(gauge - round(gauge)) < 1e-6  # definition: rounding of the formula, no more
    return f"{round(gauge)}-gauge sheet wax ({thickness_mm:.2f} mm)" if is_whole else f"{thickness_mm:.2f} mm of wax"
