"""A poured scan over its reference: each unit's own points carry its motion whole, as scipy's rotation gives it."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation
from tests.shapes import box, joined

from seatwright.arch import SeedRegion, assign_regions
from seatwright.mesh import Surface, move_surface
from seatwright.workflows.overlay import lay_over

SHIFT = np.array([0.1, -0.05, 0.2])
TURN = np.array([0.5, 1.0, -0.3])


@pytest.fixture
def laid() -> tuple[Surface, np.ndarray, object]:
    """Two blocks, of which the one at x = 20 was moved; the poured scan lies in a frame of its own."""
    left, right = box((6, 6, 6), edge=1.0), box((6, 6, 6), edge=1.0, center=(20, 0, 0))
    reference = joined(left, right)
    regions = assign_regions(reference, [SeedRegion("34", np.array([20.0, 0, 3]), 9.0)])
    about = regions[0].centroid_mm
    moved = reference.vertices_mm.copy()
    mine = moved[:, 0] > 10
    moved[mine] = Rotation.from_rotvec(TURN, degrees=True).apply(moved[mine] - about) + about + SHIFT
    own = np.eye(4)
    own[:3, :3], own[:3, 3] = Rotation.from_euler("xyz", [10, 20, 30], degrees=True).as_matrix(), (5, 6, 7)
    poured = move_surface(Surface(moved, reference.faces), own)
    unit = SimpleNamespace(tooth="34", shift_mm=SHIFT, turn_deg=TURN, about_mm=about)
    result = SimpleNamespace(units=(unit,), T_reference_poured=np.linalg.inv(own))
    step = SimpleNamespace(result=result, reference=reference)
    return reference, mine, lay_over(step, poured, regions)  # type: ignore[arg-type]


def test_a_units_points_go_back_to_where_they_belong(laid) -> None:
    reference, mine, overlay = laid
    belong = overlay.poured.vertices_mm - overlay.moved_mm
    np.testing.assert_allclose(belong[mine], reference.vertices_mm[mine], atol=1e-9)


def test_what_did_not_move_is_not_drawn_as_moved(laid) -> None:
    _, mine, overlay = laid
    assert (~mine).any()
    assert not overlay.moved_mm[~mine].any()
