"""Surfaces as shaded pictures: parallel projection, own z-buffer, values as colors. Writes no text."""

from dataclasses import dataclass
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from seatwright.errors import ValueOutOfRange
from seatwright.figures._colors import decode_srgb, diverging_color, encode_srgb
from seatwright.figures._intervals import nice_step
from seatwright.figures._raster import average_blocks, fill_depth, shade_pixels
from seatwright.mesh import Surface, measure_vertex_normals
from seatwright.quantities import FloatArray

__all__ = ["UNKNOWN_COLOR", "Paint", "View", "project_depth", "project_scale", "render_surface", "round_limit"]

_PLAIN = np.array([0.86, 0.83, 0.77])
UNKNOWN_COLOR = np.array([0.62, 0.61, 0.60])
_BACK = np.array([0.42, 0.40, 0.38])
_AMBIENT = 0.42
_LIGHT = np.array([-0.35, 0.45, 0.82]) / np.linalg.norm([-0.35, 0.45, 0.82])
_OVERSAMPLE = 2
_BYTE_OF_LEVEL = np.round(encode_srgb(np.linspace(0.0, 1.0, 1 << 16)) * 255).astype(np.uint8)
_MARGIN = 0.03


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """Where a surface is looked at from: two directions of the surface's frame that run right and up on the page."""

    right: FloatArray
    up: FloatArray

    def axes(self) -> FloatArray:
        """Return right, up and towards the viewer as rows, shape (3, 3), orthonormal.

        Raises
        ------
        ValueOutOfRange
            If the two directions are parallel or zero.
        """
        right = np.asarray(self.right, dtype=float)
        towards = np.cross(right, np.asarray(self.up, dtype=float))
        if not np.linalg.norm(towards) > 1e-9:
            raise ValueOutOfRange("a view needs two directions that are not parallel")
        right = right / np.linalg.norm(right)
        towards = towards / np.linalg.norm(towards)
        return np.vstack([right, np.cross(towards, right), towards])


@dataclass(frozen=True, slots=True, eq=False)
class Paint:
    """Values to color a surface by.

    Attributes
    ----------
    values : ndarray of shape (n_vertices,)
    known : ndarray of shape (n_vertices,), bool
        Where False the surface stays gray.
    limit : float
        Value at the ends of the scale, > 0, same unit.
    """

    values: FloatArray
    known: NDArray[np.bool_]
    limit: float


def round_limit(values: FloatArray, at_least: float) -> float:
    """Return a round end for a color scale: all but the wildest 0.5 % of values fit, and `at_least` does.

    Examples
    --------
    >>> round_limit(np.array([3.0, -187.0]), 50.0)
    200.0
    """
    reach = max(float(np.quantile(np.abs(values), 0.995)) if len(values) else 0.0, at_least)
    step = nice_step(reach, 4)
    return float(np.ceil(reach / step - 1e-9) * step)


def project_scale(surface: Surface, view: View, size: tuple[int, int]) -> float:
    """Return the pixels per mm at which the surface fills the picture but for a margin."""
    own = surface.vertices_mm @ view.axes().T
    extent = np.maximum(own.max(axis=0) - own.min(axis=0), 1e-9)
    return float(min(size[0] / extent[0], size[1] / extent[1]) * (1 - 2 * _MARGIN))


def project_depth(
    surface: Surface, view: View, size: tuple[int, int]
) -> tuple[FloatArray, NDArray[np.int32], FloatArray, float]:
    """Project a surface so that it fills the picture.

    Returns
    -------
    depth : ndarray of shape (height, width)
        Distance towards the viewer along the view, mm, in the surface's frame; -inf where nothing is seen.
    face : ndarray of shape (height, width)
        Index of the face seen, or -1.
    weight : ndarray of shape (height, width, 2)
        Barycentric weights of the face's first two corners.
    px_per_mm : float
    """
    width, height = size
    own = surface.vertices_mm @ view.axes().T
    low, high = own.min(axis=0), own.max(axis=0)
    px_per_mm = project_scale(surface, view, size)
    middle = (low + high) / 2
    corners = np.column_stack(
        [
            (own[:, 0] - middle[0]) * px_per_mm + width / 2,
            (middle[1] - own[:, 1]) * px_per_mm + height / 2,
            own[:, 2],
        ]
    )
    depth, face, weight = fill_depth(corners, surface.faces, height, width)
    return depth, face, weight, px_per_mm


def render_surface(
    surface: Surface, *, view: View, paint: Paint | None = None, size: tuple[int, int] = (1200, 1000)
) -> bytes:
    """Draw a surface as PNG bytes, lit from the upper left; white where there is nothing.

    Parameters
    ----------
    surface : Surface
    view : View
    paint : Paint or None
        Plain stone color when None.
    size : (int, int)
        Width and height, px.

    Notes
    -----
    Faces seen from behind are dark. The legend is drawn by `draw_deviation`, as text should stay text.
    """
    width, height = size
    _, face, weight, _ = project_depth(surface, view, (width * _OVERSAMPLE, height * _OVERSAMPLE))
    normals = measure_vertex_normals(surface) @ view.axes().T
    picture = shade_pixels(
        face,
        weight,
        surface.faces,
        np.ascontiguousarray(normals),
        decode_srgb(_vertex_colors(surface, paint)),
        _LIGHT,
        _AMBIENT,
        decode_srgb(_BACK),
    )
    levels = np.round(average_blocks(picture, _OVERSAMPLE) * (len(_BYTE_OF_LEVEL) - 1)).astype(np.uint16)
    out = BytesIO()
    Image.fromarray(_BYTE_OF_LEVEL[levels], "RGB").save(out, format="PNG")
    return out.getvalue()


def _vertex_colors(surface: Surface, paint: Paint | None) -> FloatArray:
    if paint is None:
        return np.tile(_PLAIN, (surface.n_vertices, 1))
    if not paint.limit > 0:
        raise ValueOutOfRange(f"a color scale needs a limit above zero, got {paint.limit}")
    colors = diverging_color(np.asarray(paint.values) / paint.limit)
    return np.where(np.asarray(paint.known)[:, None], colors, UNKNOWN_COLOR)
