"""Undercuts as a shaded picture: one blue in four depths, each with its own hatch, so that no band rests on color."""

from dataclasses import dataclass
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from seatwright.figures._colors import decode_srgb, encode_srgb
from seatwright.figures._raster import average_blocks, fill_depth, shade_pixels
from seatwright.figures._render import View, project_depth, project_scale
from seatwright.mesh import LevelLine, measure_vertex_normals
from seatwright.quantities import FloatArray
from seatwright.survey import GAUGES_MM, UndercutFlag, UndercutMap

__all__ = ["N_BANDS", "UndercutPicture", "band_swatch", "picture_undercut"]

N_BANDS = len(GAUGES_MM) + 2
"""Up to each gauge, deeper than the last one, and deeper than was looked for."""
_STONE = np.array([0.86, 0.83, 0.77])
_BANDS = np.array([[0.80, 0.87, 0.92], [0.58, 0.73, 0.84], [0.34, 0.55, 0.73], [0.15, 0.34, 0.55], [0.30, 0.29, 0.28]])
_BACK = np.array([0.42, 0.40, 0.38])
_LIGHT = np.array([-0.35, 0.45, 0.82]) / np.linalg.norm([-0.35, 0.45, 0.82])
_OVERSAMPLE = 2
_HATCH_PX = (0, 22, 12, 12, 8)  # spacing of the hatch of each band; 0: none
_LEAST_MM = 0.005  # drawn as free: half of what gauge quality promises
_THROUGH_MM = 12.0  # shown through: less than a tooth's height below what is seen, so not a model's base
_SEEN_MM = 0.15  # a line counts as seen when it lies no deeper than this behind the surface


@dataclass(frozen=True, slots=True, eq=False)
class UndercutPicture:
    """One view of the undercuts.

    Attributes
    ----------
    png : bytes
    size_px : (int, int)
        Width and height.
    px_per_mm : float
    """

    png: bytes
    size_px: tuple[int, int]
    px_per_mm: float
    _depth: FloatArray
    _axes: FloatArray
    _middle: FloatArray

    def place(self, points_mm: FloatArray) -> FloatArray:
        """Return where points of the surface's frame lie in the picture, px from the upper left, shape (n, 2)."""
        own = points_mm @ self._axes.T
        width, height = self.size_px
        x = (own[:, 0] - self._middle[0]) * self.px_per_mm + width / 2
        return np.column_stack([x, (self._middle[1] - own[:, 1]) * self.px_per_mm + height / 2])

    def sees(self, points_mm: FloatArray) -> NDArray[np.bool_]:
        """Whether each point lies before, or hardly behind, what the picture shows there."""
        at = np.floor(self.place(points_mm) * _OVERSAMPLE).astype(int)
        rows, columns = self._depth.shape
        x, y = np.clip(at[:, 0], 0, columns - 1), np.clip(at[:, 1], 0, rows - 1)
        return np.asarray((points_mm @ self._axes.T)[:, 2] >= self._depth[y, x] - _SEEN_MM)

    def runs(self, line: LevelLine, *, always: bool = False) -> list[FloatArray]:
        """Return the stretches of a line that are seen, in px; all of it with `always`."""
        steps = np.linalg.norm(np.diff(line.points_mm, axis=0), axis=1)
        length = np.concatenate([[0.0], np.cumsum(steps)])
        fine = np.linspace(0.0, length[-1], max(int(length[-1] * self.px_per_mm / 3), 2))
        points = np.column_stack([np.interp(fine, length, line.points_mm[:, k]) for k in range(3)])
        seen, placed = self.sees(points) | always, self.place(points)
        cuts = np.flatnonzero(np.diff(seen.astype(int))) + 1
        pieces = np.split(np.arange(len(points)), cuts)
        return [placed[piece] for piece in pieces if seen[piece[0]] and len(piece) > 1]


def picture_undercut(field: UndercutMap, view: View, *, width_px: int, see_through: bool = False) -> UndercutPicture:
    """Draw the surface with its undercuts in bands.

    Parameters
    ----------
    field : UndercutMap
    view : View
    width_px : int
    see_through : bool
        Also show undercuts that lie under an overhang, through it: for the view along the path, which sees none.
    """
    surface, axes = field.surface, view.axes()
    own = surface.vertices_mm @ axes.T
    low, high = own.min(axis=0), own.max(axis=0)
    share = (high[1] - low[1]) / max(high[0] - low[0], 1e-9)
    size = (width_px, int(np.clip(width_px * share, 0.25 * width_px, 1.4 * width_px)))
    big = (size[0] * _OVERSAMPLE, size[1] * _OVERSAMPLE)
    depth, face, weight, per_mm = project_depth(surface, view, big)
    normals = np.ascontiguousarray(measure_vertex_normals(surface) @ axes.T)
    white = np.ones((surface.n_vertices, 3))
    light = shade_pixels(face, weight, surface.faces, normals, white, _LIGHT, 0.42, decode_srgb(_BACK))
    band = _band_of_pixels(field, face, weight)
    if see_through:
        hidden = _hidden_bands(field, own, depth, per_mm)
        band = np.where((band < 0) & (face >= 0), hidden, band)
    tint = np.where((band >= 0)[..., None], decode_srgb(_BANDS)[np.maximum(band, 0)], decode_srgb(_STONE))
    tint = tint * np.where(_is_hatched(band), 0.45, 1.0)[..., None]
    picture = np.where((face >= 0)[..., None], light * tint, 1.0)
    levels = np.clip(encode_srgb(average_blocks(picture, _OVERSAMPLE)), 0, 1)
    out = BytesIO()
    Image.fromarray(np.round(levels * 255).astype(np.uint8), "RGB").save(out, format="PNG")
    scale = project_scale(surface, view, size)
    return UndercutPicture(out.getvalue(), size, scale, depth, axes, (low + high) / 2)


def band_swatch(band: int, size: tuple[int, int]) -> bytes:
    """Return a patch of one band's color and hatch as PNG, as the pictures show it."""
    big = np.full((size[1] * _OVERSAMPLE, size[0] * _OVERSAMPLE), band)
    light = decode_srgb(_BANDS[band]) * np.where(_is_hatched(big), 0.45, 1.0)[..., None]
    out = BytesIO()
    levels = np.clip(encode_srgb(average_blocks(light, _OVERSAMPLE)), 0, 1)
    Image.fromarray(np.round(levels * 255).astype(np.uint8), "RGB").save(out, format="PNG")
    return out.getvalue()


def _band_of(undercut: FloatArray, is_beyond: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Band of each value; -1 where free."""
    band = np.searchsorted(np.array(GAUGES_MM), undercut, side="right")
    return np.where(is_beyond, N_BANDS - 1, np.where(undercut < _LEAST_MM, -1, band))


def _band_of_pixels(field: UndercutMap, face: NDArray[np.int32], weight: FloatArray) -> NDArray[np.int64]:
    seen = face >= 0
    a, b, c = field.surface.faces[face[seen]].T
    one, two = weight[seen].T
    three = 1.0 - one - two
    undercut, beyond = field.undercut_mm, (field.flags == UndercutFlag.BEYOND).astype(float)
    band = np.full(face.shape, -1)
    band[seen] = _band_of(
        one * undercut[a] + two * undercut[b] + three * undercut[c],
        one * beyond[a] + two * beyond[b] + three * beyond[c] > 0.5,
    )
    return band


def _hidden_bands(field: UndercutMap, own: FloatArray, depth: FloatArray, per_mm: float) -> NDArray[np.int64]:
    """Band of the deepest measured undercut that lies not far under each pixel; -1 where there is none."""
    faces = field.surface.faces
    measured = (field.flags == UndercutFlag.MEASURED)[faces].any(axis=1)
    measured &= (field.flags != UndercutFlag.BEYOND)[faces].all(axis=1)
    ids = np.flatnonzero(measured)
    if not len(ids):
        return np.full(depth.shape, -1)
    rows, columns = depth.shape
    middle = (own.max(axis=0) + own.min(axis=0)) / 2
    x = (own[:, 0] - middle[0]) * per_mm + columns / 2
    y = (middle[1] - own[:, 1]) * per_mm + rows / 2
    _, face, weight = fill_depth(np.column_stack([x, y, field.undercut_mm]), faces[measured], rows, columns)
    found = ids[np.maximum(face, 0)]
    is_near = (face >= 0) & (own[:, 2][faces[found]].mean(axis=-1) > depth - _THROUGH_MM)
    return _band_of_pixels(field, np.where(is_near, found, -1).astype(np.int32), weight)


def _is_hatched(band: NDArray[np.int64]) -> NDArray[np.bool_]:
    rows, columns = np.indices(band.shape)
    hatched = np.zeros(band.shape, dtype=np.bool_)
    for number, spacing in enumerate(_HATCH_PX):
        if spacing:
            lines = (rows + columns) % spacing < 2
            if number >= 3:
                lines |= (rows - columns) % spacing < 2
            hatched |= lines & (band == number)
    return hatched
