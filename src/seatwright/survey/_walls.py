"""Walls that guide the partial: faces of slides, cones and guide planes, each with its room and its length.

Owns what one wall admits, as a half-space on the sphere. Refuses to know cases or meshes.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seatwright.errors import ValueOutOfRange
from seatwright.quantities import FloatArray
from seatwright.survey._cone import Cone, half_space

__all__ = ["Guide", "Wall", "admitted_body_tilt_rad", "box_walls", "centered_cones", "cone_walls", "plane_wall"]


@dataclass(frozen=True, slots=True, eq=False)
class Wall:
    """One flat guiding wall.

    Attributes
    ----------
    feature, side : str
        What it belongs to and which side of it, such as ``slide-35`` and ``mesial``.
    normal : ndarray of shape (3,)
        Unit vector from the wall into the room in which the part moves.
    along : ndarray of shape (3,)
        Unit vector in the wall, the way the part leaves.
    length_mm : float
        Length over which wall and part overlap when seated, along the wall.
    gap_mm : float
        Room between wall and part across the wall when the part is centered: per side.
    """

    feature: str
    side: str
    normal: FloatArray
    along: FloatArray
    length_mm: float
    gap_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Guide:
    """One thing that guides: a slide's box, a primary crown's cone, a bar's two sides, a guide plane.

    Attributes
    ----------
    id, kind : str
    axis : ndarray of shape (3,)
        The way the part leaves it; for a guide plane its own direction along the wall.
    length_mm, gap_mm : float
        Guided length along the wall and room per side.
    taper_rad : float
        Of a cone's wall to its axis.
    is_round : bool
        Whether the centered window is a circular cone; else it is that of `walls`.
    walls : tuple of Wall
        A round one carries an inscribed polygon of them.
    """

    id: str
    kind: str
    axis: FloatArray
    length_mm: float
    gap_mm: float
    taper_rad: float
    is_round: bool
    walls: tuple[Wall, ...]

    @property
    def is_rigid_slide(self) -> bool:
        """Whether parallel walls all round leave no more than their play."""
        return self.kind in ("slide", "bar_clip") or (self.is_round and self.taper_rad < math.radians(2.0))


def box_walls(
    feature: str, axis: FloatArray, sides: Sequence[tuple[str, FloatArray]], *, length_mm: float, gap_mm: float
) -> tuple[Wall, ...]:
    """Walls parallel to an axis; `sides` names each with the direction in which it lies seen from the part.

    Parameters
    ----------
    feature : str
    axis : ndarray of shape (3,)
        Unit vector, the way the part leaves.
    sides : sequence of (str, ndarray of shape (3,))
        In the axis's frame.
    length_mm, gap_mm : float
        Guided length along the wall and room per side.
    """
    walls = []
    for name, lies in sides:
        across = lies - axis * float(np.dot(axis, lies))
        size = float(np.linalg.norm(across))
        if size < 1e-9:
            raise ValueOutOfRange(f"the {name} wall of {feature} would lie across its own axis")
        walls.append(Wall(feature, name, -across / size, axis, length_mm, gap_mm))
    return tuple(walls)


def cone_walls(
    feature: str, axis: FloatArray, *, taper_rad: float, length_mm: float, gap_mm: float, n_walls: int = 24
) -> tuple[Wall, ...]:
    """Polygon of tangent walls around a cone that opens the way the part leaves.

    Parameters
    ----------
    feature : str
    axis : ndarray of shape (3,)
        Unit vector, the way the part leaves.
    taper_rad : float
        Of the wall to its axis.
    length_mm, gap_mm : float
        Slant length of the wall and room across it.
    n_walls : int

    With 24 walls the polygon of admitted directions reaches at most 0.9 % (1/cos(pi/24)) beyond the circle.
    """
    side = np.array([1.0, 0.0, 0.0]) if abs(axis[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    first = np.cross(side, axis)
    first /= np.linalg.norm(first)
    second = np.cross(axis, first)
    walls = []
    for k in range(n_walls):
        turn = 2 * math.pi * k / n_walls
        out = first * math.cos(turn) + second * math.sin(turn)
        normal = out * math.cos(taper_rad) + axis * math.sin(taper_rad)
        along = axis * math.cos(taper_rad) - out * math.sin(taper_rad)
        walls.append(Wall(feature, "wall", normal, along, length_mm, gap_mm))
    return tuple(walls)


def plane_wall(feature: str, normal: FloatArray, leaving: FloatArray, *, length_mm: float, gap_mm: float = 0.0) -> Wall:
    """Guide plane with its outward normal; the part lies outside it and leaves along `leaving` at seat."""
    unit = normal / np.linalg.norm(normal)
    along = leaving - unit * float(np.dot(unit, leaving))
    size = float(np.linalg.norm(along))
    if size < 1e-6:
        raise ValueOutOfRange(f"guide plane {feature} lies across the path", hint="check its normal")
    return Wall(feature, "guide plane", unit, along / size, length_mm, gap_mm)


def centered_cones(guide: Guide) -> tuple[Cone, ...]:
    """Directions in which a guide's part leaves from a centered seat, as cones and half-spaces.

    Notes
    -----
    The part leaves overlap after a travel s with s (u . d) = l, u along the wall; it has then moved s (n . d) from the
    wall and touches it when that is -g. So d is admitted when g (u . d) + l (n . d) >= 0: a half-space whose inward
    normal is g u + l n, exactly; and its floor keeps the part from leaving backwards. Walls parallel to the axis admit
    atan(g/l); a taper adds its angle: a + atan(g/l).
    """
    if guide.is_round:
        half = guide.taper_rad + math.atan2(guide.gap_mm, guide.length_mm)
        return (Cone(guide.axis, half, guide.id, "wall"),)
    sides = (half_space(w.gap_mm * w.along + w.length_mm * w.normal, w.feature, w.side) for w in guide.walls)
    return (*sides, half_space(guide.axis, guide.id, "floor"))


def admitted_body_tilt_rad(length_mm: float, width_mm: float, gap_mm: float) -> float:
    """Turn that a body of this length and width admits inside its box: L sin(t) + w cos(t) = w + 2 g.

    Parameters
    ----------
    length_mm, width_mm, gap_mm : float
        Of the body in its box: length along the walls, width across, room per side.

    Raises
    ------
    ValueOutOfRange
        If the length is not positive, or width or gap negative.

    Examples
    --------
    >>> round(math.degrees(admitted_body_tilt_rad(5.0, 2.5, 0.02)), 2)
    0.46
    """
    if not (length_mm > 0 and width_mm >= 0 and gap_mm >= 0):
        raise ValueOutOfRange(f"need a length > 0, a width and a gap >= 0, got {length_mm}, {width_mm}, {gap_mm} mm")
    size = math.hypot(length_mm, width_mm)
    reach = (width_mm + 2 * gap_mm) / size
    lean = math.atan2(width_mm, length_mm)
    if reach >= 1.0:
        return math.pi / 2
    return math.asin(reach) - lean
