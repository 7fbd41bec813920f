"""The z-buffer: which face each pixel sees, and where on it. Compiled; knows nothing of color or view."""

import numpy as np
from numba import njit

__all__ = ["NOTHING", "average_blocks", "fill_depth", "shade_pixels"]

NOTHING = -1
"""Face index of a pixel that sees no surface."""


@njit(cache=True)
def fill_depth(corners, faces, n_rows, n_columns):  # type: ignore[no-untyped-def]
    """Return depth, face index and two barycentric weights per pixel.

    Parameters
    ----------
    corners : ndarray of shape (n, 3)
        x in columns and y in rows, both in pixels from the upper left corner; z grows towards the viewer.
    faces : ndarray of shape (m, 3)
    n_rows, n_columns : int

    Notes
    -----
    A pixel belongs to a face when its center does; of several the nearest wins, of equal ones the lowest index.
    """
    depth = np.full((n_rows, n_columns), -np.inf)
    face_id = np.full((n_rows, n_columns), -1, dtype=np.int32)
    weight = np.zeros((n_rows, n_columns, 2))
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ax, ay, bx, by, cx, cy = (
            corners[a, 0],
            corners[a, 1],
            corners[b, 0],
            corners[b, 1],
            corners[c, 0],
            corners[c, 1],
        )
        area = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay)
        if area == 0.0:
            continue
        first_column = max(int(np.ceil(min(ax, bx, cx) - 0.5)), 0)
        last_column = min(int(np.floor(max(ax, bx, cx) - 0.5)), n_columns - 1)
        first_row = max(int(np.ceil(min(ay, by, cy) - 0.5)), 0)
        last_row = min(int(np.floor(max(ay, by, cy) - 0.5)), n_rows - 1)
        for row in range(first_row, last_row + 1):
            y = row + 0.5
            for column in range(first_column, last_column + 1):
                x = column + 0.5
                wa = ((bx - x) * (cy - y) - (cx - x) * (by - y)) / area
                wb = ((cx - x) * (ay - y) - (ax - x) * (cy - y)) / area
                wc = 1.0 - wa - wb
                if wa < 0.0 or wb < 0.0 or wc < 0.0:
                    continue
                z = wa * corners[a, 2] + wb * corners[b, 2] + wc * corners[c, 2]
                if z > depth[row, column]:
                    depth[row, column] = z
                    face_id[row, column] = f
                    weight[row, column, 0] = wa
                    weight[row, column, 1] = wb
    return depth, face_id, weight


@njit(cache=True)
def shade_pixels(face_id, weight, faces, normals, colors, light, ambient, back):  # type: ignore[no-untyped-def]
    """Return linear light per pixel, shape (rows, columns, 3): white where nothing is seen.

    Parameters
    ----------
    face_id, weight : ndarray
        As `fill_depth` returns them.
    faces, normals : ndarray of shape (m, 3) and (n, 3)
        Unit normals with z towards the viewer.
    colors : ndarray of shape (n, 3)
        Linear color per vertex.
    light : ndarray of shape (3,)
        Direction to the light.
    ambient : float
        Share of light that comes from everywhere.
    back : ndarray of shape (3,)
        Linear color of the surface's inner side.
    """
    n_rows, n_columns = face_id.shape
    picture = np.ones((n_rows, n_columns, 3))
    for row in range(n_rows):
        for column in range(n_columns):
            f = face_id[row, column]
            if f < 0:
                continue
            wa, wb = weight[row, column, 0], weight[row, column, 1]
            wc = 1.0 - wa - wb
            a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
            nx = wa * normals[a, 0] + wb * normals[b, 0] + wc * normals[c, 0]
            ny = wa * normals[a, 1] + wb * normals[b, 1] + wc * normals[c, 1]
            nz = wa * normals[a, 2] + wb * normals[b, 2] + wc * normals[c, 2]
            length = max(np.sqrt(nx * nx + ny * ny + nz * nz), 1e-12)
            if nz < 0.0:
                for k in range(3):
                    picture[row, column, k] = back[k] * (0.6 - 0.4 * nz / length)
                continue
            cosine = max((nx * light[0] + ny * light[1] + nz * light[2]) / length, 0.0)
            lit = min((ambient + (1.0 - ambient) * cosine) * 1.08, 1.0)
            for k in range(3):
                picture[row, column, k] = lit * (wa * colors[a, k] + wb * colors[b, k] + wc * colors[c, k])
    return picture


@njit(cache=True)
def average_blocks(picture, n):  # type: ignore[no-untyped-def]
    """Return the means of n by n blocks of pixels."""
    n_rows, n_columns = picture.shape[0] // n, picture.shape[1] // n
    small = np.zeros((n_rows, n_columns, 3))
    for row in range(n_rows * n):
        for column in range(n_columns * n):
            for k in range(3):
                small[row // n, column // n, k] += picture[row, column, k] / (n * n)
    return small
