"""Two hand-computed values for attachment axes, at the printed digits."""

from seatwright.case import admitted_tilt_deg, lateral_run_out_um


def test_run_out_of_two_axes_over_a_slide() -> None:
    assert abs(lateral_run_out_um(5.0, 2.6) - 227) <= 0.5


def test_tilt_that_a_slides_total_clearance_admits() -> None:
    assert abs(admitted_tilt_deg(20.0, 5.0) - 0.23) <= 0.005
