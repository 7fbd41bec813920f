"""Six-parameter rigid updates, compiled: normal equations, Cholesky, rotation from a small vector."""

import numpy as np
from numba import njit

__all__ = ["add_row", "rotate_by", "solve_six"]


@njit(cache=True)
def solve_six(matrix, right):  # type: ignore[no-untyped-def]
    """Solve a symmetric positive (damped) 6x6 system from its lower half; zeros when it is not positive definite."""
    lower = np.zeros((6, 6))
    solution = np.zeros(6)
    for i in range(6):
        for j in range(i + 1):
            total = matrix[i, j]
            for k in range(j):
                total -= lower[i, k] * lower[j, k]
            if i == j:
                if total <= 0.0:
                    return solution
                lower[i, i] = np.sqrt(total)
            else:
                lower[i, j] = total / lower[j, j]
    for i in range(6):
        total = right[i]
        for k in range(i):
            total -= lower[i, k] * solution[k]
        solution[i] = total / lower[i, i]
    for i in range(5, -1, -1):
        total = solution[i]
        for k in range(i + 1, 6):
            total -= lower[k, i] * solution[k]
        solution[i] = total / lower[i, i]
    return solution


@njit(cache=True)
def add_row(matrix, right, row, residual, weight):  # type: ignore[no-untyped-def]
    """Add one weighted equation row . x = -residual to the lower half of normal equations."""
    for a in range(6):
        scaled = weight * row[a]
        right[a] -= scaled * residual
        for b in range(a + 1):
            matrix[a, b] += scaled * row[b]


@njit(cache=True)
def rotate_by(rotation, vector):  # type: ignore[no-untyped-def]
    """Return exp(vector) @ rotation for a rotation vector in radians (Rodrigues' formula)."""
    x, y, z = vector[0], vector[1], vector[2]
    angle = np.sqrt(x * x + y * y + z * z)
    a = 1.0 - angle * angle / 6.0
    b = 0.5 - angle * angle / 24.0
    if angle > 1e-4:
        a = np.sin(angle) / angle
        b = (1.0 - np.cos(angle)) / (angle * angle)
    turn = np.empty((3, 3))
    turn[0, 0], turn[0, 1], turn[0, 2] = 1 - b * (y * y + z * z), b * x * y - a * z, b * x * z + a * y
    turn[1, 0], turn[1, 1], turn[1, 2] = b * x * y + a * z, 1 - b * (x * x + z * z), b * y * z - a * x
    turn[2, 0], turn[2, 1], turn[2, 2] = b * x * z - a * y, b * y * z + a * x, 1 - b * (x * x + y * y)
    result = np.zeros((3, 3))
    for i in range(3):
        for j in range(3):
            for k in range(3):
                result[i, j] += turn[i, k] * rotation[k, j]
    return result
