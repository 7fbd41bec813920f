"""The undercut of random bodies of 24 corners against exact polygons of a general-purpose geometry library."""

import numpy as np
from tests.property.test_undercut_laws import direction, hull
from tests.published.undercut.exact_polygons import reach_exactly
from tests.shapes import joined

from seatwright.mesh import Surface
from seatwright.survey import UndercutFlag, make_path, measure_undercut

LIMIT = 1.5


def test_three_random_bodies_read_what_exact_polygons_give() -> None:
    rows = []
    for seed in range(1000, 1020):
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
    under = (truth > 1e-6) & (truth < LIMIT)
    assert under.sum() > 100
    assert not read[truth == 0.0].any()
    # openings narrower than a cell are missed: then the flag says that there is no value
    measured = under & (flag == UndercutFlag.MEASURED)
    assert (under & ~measured).sum() <= 0.03 * under.sum()
    error_um = 1e3 * (read - truth)[measured]
    assert np.median(np.abs(error_um)) < 1e-3
    assert error_um.min() > -1.0  # never too shallow
    assert np.percentile(error_um, 99) <= 10.0  # the bar
    assert error_um.max() < 50.0  # one cell
