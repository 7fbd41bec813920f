import numpy as np
import pytest

from seatwright.errors import ValueOutOfRange
from seatwright.survey import make_path


@pytest.mark.parametrize("given", [(0, 0, 0), (np.nan, 0, 1), (np.inf, 0, 1), (1, 2)])
def test_path_without_a_direction_is_refused(given: tuple[float, ...]) -> None:
    with pytest.raises(ValueOutOfRange):
        make_path(np.array(given, dtype=float))


@pytest.mark.parametrize("given", [(1e-320, 0, 0), (1e308, -1e308, 1e308), (0.1, 0.2, -3)])
def test_path_frame_stands_on_the_withdraw_direction(given: tuple[float, float, float]) -> None:
    path = make_path(given)
    frame = path.frame()[:3, :3]
    assert np.allclose(frame @ frame.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(frame) > 0
    assert np.allclose(frame @ path.withdraw_direction, [0, 0, 1], atol=1e-12)
    wanted = np.array(given) / np.abs(given).max()
    assert np.allclose(path.seat_direction, wanted / np.linalg.norm(wanted), atol=1e-12)
