"""The area where a yes-or-no question is answered yes, as polygons, from a lattice of asked points.

Owns the walk over triangles of the lattice and the edge's refinement. Refuses to know what is asked. Any shape comes
out as it is: not star-shaped, with holes, in several pieces; what is narrower than the lattice can be missed.
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import Polygon

from seatwright.quantities import FloatArray

__all__ = ["Ask", "Edge", "FindEdge", "Lattice", "Node", "refine_edge"]

Ask = Callable[[FloatArray], bool]
"""Whether a point of shape (2,) is free."""
FindEdge = Callable[[FloatArray, FloatArray], FloatArray]
"""Where, between a free point and one that is not, the edge lies."""
Node = tuple[int, int]

_NEIGHBORS: tuple[Node, ...] = ((1, 0), (0, 1), (-1, 1), (-1, 0), (0, -1), (1, -1))  # definition: the lattice's
_DEEPEST = 6  # judgement: a chord is halved so often at most; 2 degrees end at a thirtieth
_FAR = 3.0  # judgement: chord lengths up to which the edge is looked for beside a chord; a sharp corner lies so far out


@dataclass(slots=True, eq=False)
class Lattice:
    """Points at the corners of triangles, each asked once.

    Attributes
    ----------
    origin : ndarray of shape (2,)
    basis : ndarray of shape (2, 2)
        Turns a lattice of equilateral triangles of side one into this one.
    ask : callable
    """

    origin: FloatArray
    basis: FloatArray
    ask: Ask
    answers: dict[Node, bool] = field(default_factory=dict)

    def place(self, node: Node) -> FloatArray:
        """Return where a node lies, shape (2,)."""
        i, j = node
        return np.asarray(self.origin + self.basis @ np.array([i + 0.5 * j, math.sqrt(0.75) * j]))

    def is_free(self, node: Node) -> bool:
        """Whether a node is free; asked once."""
        if node not in self.answers:
            self.answers[node] = self.ask(self.place(node))
        return self.answers[node]

    def groups(self) -> list[list[Node]]:
        """Return the free nodes asked so far, in groups of neighbors."""
        left = {node for node, is_free in self.answers.items() if is_free}
        found = []
        while left:
            group, border = [], [left.pop()]
            while border:
                node = border.pop()
                group.append(node)
                near = [n for n in _around(node) if n in left]
                left.difference_update(near)
                border += near
            found.append(group)
        return found

    def flood(self, n_most: int) -> list[Node] | None:
        """Return the free nodes that are linked to the origin; None when they are more than `n_most`."""
        seen, border, free = {(0, 0)}, [(0, 0)], []
        while border:
            node = border.pop(0)
            if not self.is_free(node):
                continue
            free.append(node)
            if len(free) > n_most:
                return None
            near = [n for n in _around(node) if n not in seen]
            seen.update(near)
            border += near
        return free

    def outline(self, free: Iterable[Node], find_edge: FindEdge) -> shapely.Geometry:
        """Return the area about free nodes: in each triangle that touches one, the free part, joined."""
        edges: dict[tuple[Node, Node], FloatArray] = {}

        def edge(one: Node, other: Node) -> FloatArray:
            key = (one, other) if self.is_free(one) else (other, one)
            if key not in edges:
                edges[key] = find_edge(self.place(key[0]), self.place(key[1]))
            return edges[key]

        pieces = []
        for corners in {t for node in free for t in _triangles(node)}:
            points: list[FloatArray] = []
            for one, other in zip(corners, (*corners[1:], corners[0]), strict=True):
                if self.is_free(one):
                    points.append(self.place(one))
                if self.is_free(one) != self.is_free(other):
                    points.append(edge(one, other))
            piece = Polygon(points)
            if piece.area > 0:
                pieces.append(piece)
        return shapely.union_all(pieces) if pieces else Polygon()


def _around(node: Node) -> list[Node]:
    return [(node[0] + i, node[1] + j) for i, j in _NEIGHBORS]


def _triangles(node: Node) -> list[tuple[Node, ...]]:
    ring = _around(node)
    return [tuple(sorted((node, a, b))) for a, b in zip(ring, (*ring[1:], ring[0]), strict=True)]


@dataclass(frozen=True, slots=True, eq=False)
class Edge:
    """How an edge is asked about: whether a point is free, where the edge lies, and how near is near enough.

    `tolerance` is in the plane's unit.
    """

    ask: Ask
    find: FindEdge
    tolerance: float


def refine_edge(area: Polygon, edge: Edge) -> shapely.Geometry:
    """Halve the chords of a polygon's rings until their middles lie within the tolerance of the edge.

    The polygon's corners lie on the edge already.
    """
    rings = []
    for ring in (area.exterior, *area.interiors):
        corners = shapely.get_coordinates(ring)[:-1]
        finer: list[FloatArray] = []
        for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            finer += [start, *_between(start, end, edge, 0)]
        rings.append(np.array(finer))
    finer_area = shapely.make_valid(Polygon(rings[0], rings[1:]))
    return shapely.simplify(finer_area, 0.25 * edge.tolerance)


def _between(start: FloatArray, end: FloatArray, edge: Edge, depth: int) -> list[FloatArray]:
    """Points to put between two neighbors of a ring whose inside lies to the left."""
    chord = end - start
    length = float(np.linalg.norm(chord))
    if length <= 2 * edge.tolerance or depth >= _DEEPEST:
        return []
    found = _beside(0.5 * (start + end), np.array([chord[1], -chord[0]]) / length, length, edge)
    if found is None:
        return []
    return [*_between(start, found, edge, depth + 1), found, *_between(found, end, edge, depth + 1)]


def _beside(middle: FloatArray, outwards: FloatArray, length: float, edge: Edge) -> FloatArray | None:
    """Where the edge lies beside a chord's middle; None within the tolerance, or when far off."""
    tolerance = edge.tolerance
    if edge.ask(middle + tolerance * outwards):
        way, is_free = outwards, True
    elif not edge.ask(middle - tolerance * outwards):
        way, is_free = -outwards, False
    else:
        return None
    last, step = middle + tolerance * way, tolerance
    while step < _FAR * length:
        step = min(2 * step, _FAR * length)
        ahead = middle + step * way
        if edge.ask(ahead) != is_free:
            return edge.find(last, ahead) if is_free else edge.find(ahead, last)
        last = ahead
    return None
