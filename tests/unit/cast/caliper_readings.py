"""Readings with known truth for tests of the caliper check."""

from itertools import combinations

import numpy as np

from seatwright.cast import CaliperReading, Epoch

ARCH = np.array([[25, 20, 0], [22, 5, 0], [10, -8, 0], [-8, -9, 0], [-21, 4, 0], [-24, 21, 0]], dtype=float)
NAMES = ("37", "35", "33", "43", "45", "47")
HEIGHTS = np.array([0.0, 8.0, 0.0, 7.0, 1.0, 9.0])


def read_marks(
    places, rng, *, moved=None, names=NAMES, s=0.015, n=3, scale=0.0, pairs=None, epochs=("mouth", "cast"), step=0.01
):
    """Return readings of all (or some) pairs; on the cast marks are moved (dict of name to vector, mm) and scaled."""
    readings = []
    for epoch in epochs:
        at = np.array(places, dtype=float)
        if epoch == "cast":
            for name, vector in (moved or {}).items():
                at[names.index(name)] += vector
            at *= 1 + scale
        for i, j in pairs or combinations(range(len(at)), 2):
            for _ in range(n):
                length = float(np.linalg.norm(at[i] - at[j]) + rng.normal(0, s))
                length = round(length / step) * step if step else length
                readings.append(CaliperReading(Epoch(epoch), names[i], names[j], length))
    return tuple(readings)
