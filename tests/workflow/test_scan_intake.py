"""What is told of a brought scan: checked on trimesh's own solids, whose pieces, borders and turns are known."""

import numpy as np
import trimesh
from tests.shapes import joined

from seatwright.mesh import Surface, join_vertices
from seatwright.workflows.scan_intake import examine_scan


def _of(made: trimesh.Trimesh) -> Surface:
    return join_vertices(Surface(np.array(made.vertices), np.array(made.faces)))[0]


def test_a_sphere_is_closed_and_without_a_fault() -> None:
    look = examine_scan(_of(trimesh.creation.icosphere(subdivisions=3, radius=30.0)))
    assert (look.n_triangles, look.n_points, look.n_bodies, look.n_border_edges) == (1280, 642, 1, 0)
    assert (look.n_turned_edges, look.n_inside_out, look.degenerate_share) == (0, 0, 0.0)
    assert [finding.id for finding in look.findings] == ["scan-border"]
    assert "closed" in look.findings[0].what


def test_what_trimesh_calls_a_fault_is_told() -> None:
    sphere = trimesh.creation.icosphere(subdivisions=3, radius=30.0)
    inward = trimesh.creation.icosphere(subdivisions=2, radius=5.0)
    inward.apply_translation([50, 0, 0])
    inward.invert()
    assert inward.volume < 0
    look = examine_scan(joined(_of(sphere), _of(inward)))
    assert (look.n_bodies, look.n_inside_out) == (2, 1)
    assert look.largest_share == 1280 / 1600
    found = {finding.id: finding.severity.value for finding in look.findings}
    assert found == {"scan-inside-out": "warning", "scan-pieces": "caution", "scan-border": "note"}


def test_a_turned_face_a_hole_and_slivers_are_counted() -> None:
    sphere = trimesh.creation.icosphere(subdivisions=3, radius=30.0)
    faces = np.array(sphere.faces)[1:]
    faces[7] = faces[7][::-1]
    made = trimesh.Trimesh(sphere.vertices, faces, process=False)
    assert not made.is_watertight
    assert not made.is_winding_consistent
    slivers = np.repeat(faces[:20, :1], 3, axis=1)
    look = examine_scan(Surface(np.array(sphere.vertices), np.vstack([faces, slivers])))
    assert look.n_border_edges >= 3
    assert look.n_turned_edges == 3
    assert look.degenerate_share == 20 / 1299
    assert {"scan-turned-faces", "scan-slivers"} <= {finding.id for finding in look.findings}
