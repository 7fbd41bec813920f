"""Edge of a rigid part's window on real scanned casts, against a triangle-exact collision library on both sides of it."""

import math
from pathlib import Path

import numpy as np
import pytest
from tests.published.seating.test_seating import TINY_MM, contacts, model

from seatwright.arch import OcclusalFrame
from seatwright.files import read_surface
from seatwright.mesh import Surface, join_vertices, keep_faces, measure_face_normals, prepare_withdrawal
from seatwright.survey import find_part_window, make_path, seat_part

X, Y, Z = np.eye(3)
BAR_DEG = 0.3
LIFT_MM = 0.1
MOST_TILT_DEG = 20.0
MOST_TEETH = 16


def covers(file: Path, jaw: float) -> list[tuple[Surface, Surface]]:
    """Around each high point: the cast within 9 mm, and what faces the opposing jaw within 3.5 mm, lifted."""
    cast = join_vertices(read_surface(file, length_unit="mm"))[0]
    up = jaw * Z
    middles = cast.vertices_mm[cast.faces].mean(axis=1)
    level = measure_face_normals(cast) @ up
    tops: list[np.ndarray] = []
    for k in np.argsort(-middles @ up):
        if len(tops) < MOST_TEETH and all(np.linalg.norm(middles[k] - t) > 8.0 for t in tops):
            tops.append(middles[k])
    made = []
    for top in tops:
        away = np.linalg.norm(middles - top, axis=1)
        cover = keep_faces(cast, (away < 3.5) & (level > 0.35))
        made.append((keep_faces(cast, away < 9.0), Surface(cover.vertices_mm + LIFT_MM * up, cover.faces)))
    return made


@pytest.mark.parametrize(("name", "jaw"), [("lower_cast.ply", 1.0), ("upper_cast.ply", -1.0)])
def test_edge_of_the_window_on_a_real_cast_parts_what_the_library_lets_through_from_what_it_stops(
    scans_folder: Path, name: str, jaw: float
) -> None:
    frame = OcclusalFrame(jaw * Z, Y, jaw * X)
    asked = sum(ask_edges(tooth, cover, frame) for tooth, cover in covers(scans_folder / name, jaw))
    assert asked >= 10


def ask_edges(tooth: Surface, cover: Surface, frame: OcclusalFrame) -> int:
    """Ask the library on both sides of the edge, and return at how many places."""
    pair = prepare_withdrawal(tooth, cover)
    window = find_part_window(pair, frame, MOST_TILT_DEG)
    if window.is_empty:
        return 0
    region, middle = window.regions[0], window.regions[0].center
    models = model(tooth), model(cover)
    travels = np.concatenate([np.arange(0.05, 3.0, 0.05), np.arange(3.0, 12.0, 0.25)])

    def leaves(way: np.ndarray) -> bool:
        return not any(contacts(*models, t * way) for t in travels)

    asked = 0
    for edge in region.outline[:: max(1, len(region.outline) // 24)]:
        if edge @ frame.occlusal < math.cos(math.radians(MOST_TILT_DEG - 1.5)):
            continue  # nothing further out was searched
        out = edge - (edge @ middle) * middle
        out /= np.linalg.norm(out)
        reach = math.acos(edge @ middle)
        inner, outer = (
            math.cos(angle) * middle + math.sin(angle) * out
            for angle in (reach - math.radians(BAR_DEG), reach + math.radians(BAR_DEG))
        )
        if not region.contains(inner, frame) or any(r.contains(outer, frame) for r in window.regions):
            continue  # a notch narrower than what is asked
        asked += 1
        assert leaves(inner)
        stop = seat_part(pair, make_path(-outer)).stops_short_mm
        assert contacts(*models, (stop - TINY_MM) * outer)  # where it meets may be a hair: no step would find it
    return asked
