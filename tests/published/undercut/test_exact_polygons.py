"""The undercut of random bodies of 24 corners against exact polygons of a general-purpose geometry library."""

import numpy as np
import pytest
from tests.property.test_undercut_laws import direction, hull
from tests.published.undercut.exact_polygons import reach_exactly
from tests.shapes import joined

from seatwright.mesh import Surface
from seatwright.survey import UndercutFlag, make_path, measure_undercut

LIMIT = 1.5


def read_random_bodies(seeds: range) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Truth, reading and flag at each corner in sight of three random bodies a seed."""
    rows = []
    for seed in seeds:
        bodies = [hull(seed), hull(seed + 50, 0.8, (3.0, 0, -2.0)), hull(seed + 90, 0.8, (0, 0.5, -6.0))]
        path = make_path(direction(seed))
        field = measure_undercut(joined(*bodies), path, max_undercut_mm=LIMIT)
        turned = [Surface(body.vertices_mm @ path.frame()[:3, :3].T, body.faces) for body in bodies]
        number = -1
        for own, body in enumerate(turned):
            for p in body.vertices_mm:
                number += 1
                if field.flags[number] == UndercutFlag.INSIDE:
                    continue
                truth, in_sight = reach_exactly(turned, own, p, field.slack_mm, LIMIT)
                if in_sight:
                    rows.append((truth, field.undercut_mm[number], field.flags[number]))
    truth, read, flag = np.array(rows).T
    return truth, read, flag


def hold_to_polygons(seeds: range) -> None:
    truth, read, flag = read_random_bodies(seeds)
    under = (truth > 1e-6) & (truth < LIMIT)
    assert under.sum() > 5 * len(seeds)
    assert not read[truth == 0.0].any()
    # a slit narrower than a cell along a point's own wall may be missed: then the flag says that there is no value
    measured = under & (flag == UndercutFlag.MEASURED)
    assert (under & ~measured).sum() <= 0.003 * under.sum()
    error_um = 1e3 * (read - truth)[measured]
    assert np.median(np.abs(error_um)) < 1e-3
    assert error_um.min() > -1.0  # never too shallow
    assert np.percentile(error_um, 99) <= 1.0  # a tenth of the bar
    assert (error_um > 10.0).sum() <= 0.003 * under.sum()
    assert error_um.max() < 50.0  # one cell


def test_three_random_bodies_read_what_exact_polygons_give() -> None:
    hold_to_polygons(range(1000, 1020))


@pytest.mark.parametrize("first", [20_000, 40_000, 60_000])
def test_a_hundred_sets_of_random_bodies_read_what_exact_polygons_give(first: int, long_run: None) -> None:
    hold_to_polygons(range(first, first + 100))
