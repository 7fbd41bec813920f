"""Hand-computed windows and tilts, at the printed digits."""

import math

import numpy as np

from seatwright.arch import OcclusalFrame
from seatwright.survey import (
    Guide,
    admitted_body_tilt_rad,
    box_walls,
    centered_cones,
    cone_walls,
    direction_at,
    intersect_cones,
    measure_tilt,
    reach_towards,
    reach_with_float,
)

X, Y, Z = np.eye(3)
SIDES = (("mesial", X), ("distal", -X), ("facial", Y), ("lingual", -Y))


def slide(gap_mm: float, length_mm: float) -> Guide:
    walls = box_walls("slide", Z, SIDES, length_mm=length_mm, gap_mm=gap_mm)
    return Guide("slide", "slide", Z, length_mm, gap_mm, 0.0, is_round=False, walls=walls)


def test_a_centered_slide_admits_the_printed_tilt() -> None:
    reach = reach_towards(centered_cones(slide(0.02, 5.0)), Z, X)
    assert abs(math.degrees(reach.angle_rad) - 0.23) <= 0.005


def test_a_floating_slide_admits_the_printed_tilt() -> None:
    reach = reach_with_float(slide(0.02, 5.0).walls, Z, X)
    assert abs(math.degrees(reach.angle_rad) - 0.46) <= 0.005


def test_a_body_in_its_slide_turns_by_the_printed_angle() -> None:
    for width_mm in (0.5, 1.0, 2.5):
        assert abs(math.degrees(admitted_body_tilt_rad(5.0, width_mm, 0.02)) - 0.46) <= 0.005


def test_a_tapered_die_admits_the_printed_tilt() -> None:
    taper = math.radians(6.0)
    length = 6.0 / math.cos(taper)
    walls = cone_walls("die", Z, taper_rad=taper, length_mm=length, gap_mm=0.03)
    die = Guide("die", "conus", Z, length, 0.03, taper, is_round=True, walls=walls)
    assert abs(math.degrees(intersect_cones(centered_cones(die)).depth_rad) - 6.285) <= 0.0005


def test_projected_15_and_15_read_the_printed_angle_on_the_tables_second_axis() -> None:
    frame = OcclusalFrame(Z, Y, X)
    assert abs(measure_tilt(direction_at(15.0, 15.0, frame), frame).table_second_deg - 14.51) <= 0.005
