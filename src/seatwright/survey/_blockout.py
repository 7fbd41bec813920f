"""Block-out as solids: what fills undercuts parallel to the path or with a taper, ledges left for clasps."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, label

from seatwright.errors import ValueOutOfRange
from seatwright.findings import JUDGEMENT, Finding, Severity
from seatwright.mesh import (
    ColumnModel,
    GapGrid,
    Surface,
    build_columns,
    find_gap_ends,
    find_gaps,
    find_rises,
    find_touch_points,
    hang_cones,
    measure_volume_mm3,
    move_surface,
    raise_solid,
)
from seatwright.quantities import FloatArray, invert_transform
from seatwright.survey._undercut import UndercutMap

__all__ = ["BlockOut", "Ledge", "block_out", "measure_undercut_volume_mm3"]

_PITCH_MM = 0.1  # judgement: volumes of the closed forms tested stay within 1 %
_FEWEST_NODES, _MOST_NODES = 100, 1500  # judgement: across the largest side, for surfaces of any size
_MOST_TAPER_DEG = 15.0  # judgement: 2 and 6 degrees are usual; more leaves no wall to guide
_LEAST_PATCH_MM2 = 0.1  # judgement: a speck of .3 by .3 mm
_LEAST_FILL_MM = 1e-3  # judgement: thinner wax is none


@dataclass(frozen=True, slots=True, eq=False)
class Ledge:
    """Where a clasp arm will lie: block-out stops at its lower border, so that the arm finds its place.

    Attributes
    ----------
    border_mm : ndarray of shape (k, 3)
        Lower border of the arm on the tooth, k >= 2, in the surface's frame.
    reach_mm : float
        How far from the border, in plan, the ledge is kept level with it; > 0.
    """

    border_mm: FloatArray
    reach_mm: float = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class BlockOut:
    """Solids that fill undercuts.

    Attributes
    ----------
    solids : tuple of Surface
        Closed, faces outwards, in the surface's frame: undercut gaps first, then what the taper adds.
    volume_mm3 : float
        Of all solids; patches under 0.1 mm² in plan are left out.
    undercut_volume_mm3 : float
        Of the undercuts themselves: what is filled at taper 0 and without ledges, everywhere.
    taper_deg : float
        Angle between a wall of the block-out and the path, on each side.
    n_ledges : int
    findings : tuple of Finding
    """

    solids: tuple[Surface, ...]
    volume_mm3: float
    undercut_volume_mm3: float
    taper_deg: float
    n_ledges: int
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Ground:
    """What all steps share: columns of the surface and the gaps over their grid."""

    model: ColumnModel
    gaps: GapGrid
    wanted: NDArray[np.bool_] | None

    @property
    def plan(self) -> tuple[float, float, float]:
        return self.gaps.left, self.gaps.bottom, self.gaps.pitch

    def has_gap(self, layer: int) -> NDArray[np.bool_]:
        found = np.isfinite(self.gaps.low[layer])
        if self.wanted is not None:
            found &= self.wanted[np.maximum(self.gaps.face[layer], 0)]
        return np.asarray(found)

    def nodes_mm(self) -> FloatArray:
        rows, columns = self.gaps.top.shape
        x = self.gaps.left + np.arange(columns) * self.gaps.pitch
        y = self.gaps.bottom + np.arange(rows) * self.gaps.pitch
        return np.stack(np.meshgrid(x, y), axis=-1)


def measure_undercut_volume_mm3(field: UndercutMap, *, pitch_mm: float | None = None) -> float:
    """Measure the air between overhangs and the surface below them along the path, mm³.

    Air with nothing below it, as under the rim of a model's base, does not count. Unlike an area of undercut it does
    not jump at walls that parallel the path. A midpoint sum over columns `pitch_mm` apart; by default 0.1 mm, finer on
    surfaces under 10 mm and coarser on those over 150 mm.
    """
    step = _fitting_pitch(field) if pitch_mm is None else pitch_mm
    gaps = find_gaps(_columns_of(field, step), pitch_mm=step)
    return float(np.nansum(gaps.high - gaps.low) * step**2)


def _fitting_pitch(field: UndercutMap) -> float:
    size = float(field.surface.extent_mm.max())
    return max(min(_PITCH_MM, size / _FEWEST_NODES), size / _MOST_NODES)


def block_out(
    field: UndercutMap,
    *,
    taper_deg: float = 0.0,
    wanted: NDArray[np.bool_] | None = None,
    ledges: tuple[Ledge, ...] = (),
    pitch_mm: float | None = None,
) -> BlockOut:
    """Fill the undercuts of a surface along its path.

    Parameters
    ----------
    field : UndercutMap
        Gives the surface and the path.
    taper_deg : float
        Angle between the block-out's walls and the path, 0 to 15; 0 is parallel. A wall of the surface itself that is
        steeper than the taper gets its share.
    wanted : ndarray of shape (n_faces,), bool, optional
        Only under these faces; default everywhere. With a taper, all that it adds next to other faces stays out.
    ledges : tuple of Ledge
    pitch_mm : float, optional
        Grid in plan, > 0; by default 0.1 mm, finer on surfaces under 10 mm and coarser on those over 150 mm.

    Raises
    ------
    ValueOutOfRange
        If the taper or a ledge is out of range, or the grid has too many nodes.

    Notes
    -----
    Column by column: exact heights on the triangles, ends of the overhang found by halving. With a taper the cover is
    the highest cone of that half angle hung from any edge that such a tool can touch.
    """
    if not (np.isfinite(taper_deg) and 0 <= taper_deg <= _MOST_TAPER_DEG):
        raise ValueOutOfRange(f"a taper of {taper_deg:g} degrees is none", hint="0, 2 or 6; at most 15 on each side")
    pitch_mm = _fitting_pitch(field) if pitch_mm is None else pitch_mm
    model = _columns_of(field, pitch_mm)
    ground = _Ground(model, find_gaps(model, pitch_mm=pitch_mm), wanted)
    limit = _ledge_heights(ground, ledges)
    solids = [s for layer in range(len(ground.gaps.low)) if (s := _fill_gap(ground, layer, limit)) is not None]
    if taper_deg > 0 and (added := _fill_taper(ground, field.surface, np.radians(taper_deg), limit)) is not None:
        solids.append(added)
    back = invert_transform(model.T_columns_surface)
    everything = float(np.nansum(ground.gaps.high - ground.gaps.low) * pitch_mm**2)
    return BlockOut(
        solids=tuple(move_surface(solid, back) for solid in solids),
        volume_mm3=sum(measure_volume_mm3(solid) for solid in solids),
        undercut_volume_mm3=everything,
        taper_deg=taper_deg,
        n_ledges=len(ledges),
        findings=_note_gaps(ground.gaps),
    )


def _columns_of(field: UndercutMap, pitch_mm: float) -> ColumnModel:
    if not (np.isfinite(pitch_mm) and pitch_mm > 0):
        raise ValueOutOfRange(f"the grid needs a width above zero, got {pitch_mm}", hint="0.1 mm")
    return build_columns(field.surface, field.path.frame(), pitch_mm=pitch_mm)


def _fill_gap(ground: _Ground, layer: int, limit: FloatArray) -> Surface | None:
    gaps = ground.gaps
    low, high = gaps.low[layer], np.minimum(gaps.high[layer], limit)
    exists = np.isfinite(gaps.low[layer])
    mask = _without_crumbs(ground.has_gap(layer) & (high - low > _LEAST_FILL_MM), gaps.pitch)

    def ends(a: NDArray[np.int64], b: NDArray[np.int64], xa: FloatArray, xb: FloatArray) -> FloatArray:
        at_a = (a[:, 0], a[:, 1])
        found = np.column_stack([(xa + xb) / 2, low[at_a], high[at_a]])
        stops = ~exists[b[:, 0], b[:, 1]]
        found[stops] = find_gap_ends(ground.model, xa[stops], xb[stops], layer=layer)
        cap = limit[at_a]
        found[:, 3] = np.maximum(np.minimum(found[:, 3], cap), found[:, 2])
        return found

    return raise_solid(mask, low, high, ground.plan, ends)


def _fill_taper(ground: _Ground, surface: Surface, taper_rad: float, limit: FloatArray) -> Surface | None:
    gaps = ground.gaps
    points = find_touch_points(ground.model, surface.faces, taper_rad, spacing_mm=0.5 * gaps.pitch)
    is_seen = np.isfinite(gaps.top)
    if not len(points) or not is_seen.any():
        return None
    floor = float(gaps.top[is_seen].min())
    cover = np.minimum(hang_cones(points, ground.plan, gaps.top.shape, taper_rad, floor_mm=floor), limit)
    has_gap = np.isfinite(gaps.low[0])
    with np.errstate(invalid="ignore"):  # nothing below and no cone above
        mask = is_seen & ~has_gap & (cover - gaps.top > _LEAST_FILL_MM)
    if ground.wanted is not None:
        reach = (float(cover.max()) - floor) * np.tan(taper_rad) / gaps.pitch + 1.5
        mask &= distance_transform_edt(~ground.has_gap(0)) <= reach

    mask = _without_crumbs(mask, gaps.pitch)

    def ends(a: NDArray[np.int64], b: NDArray[np.int64], xa: FloatArray, xb: FloatArray) -> FloatArray:
        at_a, at_b = (a[:, 0], a[:, 1]), (b[:, 0], b[:, 1])
        steepest = cover[at_a] - gaps.pitch / np.tan(taper_rad)
        falls = np.maximum(cover[at_b], steepest)
        pair = np.column_stack([cover[at_a], np.where(gaps.top[at_b] > cover[at_a], gaps.top[at_b], falls)])
        found = find_rises(ground.model, xa, xb, pair, taper_rad)
        at_rim = has_gap[at_b]
        found[at_rim] = find_gap_ends(ground.model, xb[at_rim], xa[at_rim], layer=0)
        found[:, 3] = np.maximum(np.minimum(found[:, 3], limit[at_a]), found[:, 2])
        return found

    return raise_solid(mask, gaps.top, cover, ground.plan, ends)


def _without_crumbs(mask: NDArray[np.bool_], pitch_mm: float) -> NDArray[np.bool_]:
    """Leave out patches too small to be laid: ripples of the surface, not undercuts."""
    patch, _ = label(mask)
    is_large = np.bincount(patch.ravel()) * pitch_mm**2 >= _LEAST_PATCH_MM2
    is_large[0] = False
    return np.asarray(is_large[patch])


def _ledge_heights(ground: _Ground, ledges: tuple[Ledge, ...]) -> FloatArray:
    """Height that block-out may reach at each node, +inf away from ledges."""
    limit = np.full(ground.gaps.top.shape, np.inf)
    nodes = ground.nodes_mm() if ledges else np.zeros((0, 0, 2))
    T = ground.model.T_columns_surface
    for ledge in ledges:
        border = np.asarray(ledge.border_mm, dtype=np.float64)
        if border.ndim != 2 or border.shape[1] != 3 or len(border) < 2 or not np.isfinite(border).all():
            raise ValueOutOfRange("a ledge needs at least two points of three finite coordinates")
        if not (np.isfinite(ledge.reach_mm) and ledge.reach_mm > 0):
            raise ValueOutOfRange(f"a ledge needs a reach above zero, got {ledge.reach_mm}")
        moved = border @ T[:3, :3].T + T[:3, 3]
        for start, end in pairwise(moved):
            along = end[:2] - start[:2]
            share = (nodes - start[:2]) @ along / max(float(along @ along), 1e-12)
            share = np.clip(share, 0.0, 1.0)
            away = np.linalg.norm(nodes - start[:2] - share[..., None] * along, axis=-1)
            height = start[2] + share * (end[2] - start[2])
            limit = np.where(away <= ledge.reach_mm, np.minimum(limit, height), limit)
    return limit


def _note_gaps(gaps: GapGrid) -> tuple[Finding, ...]:
    if not gaps.n_more:
        return ()
    return (
        Finding(
            "block-out-layers",
            Severity.CAUTION,
            f"At {gaps.n_more} columns more than three undercuts lie above each other; the lower ones are not filled",
            do="look at the solids before using them",
            source=JUDGEMENT,
        ),
    )
