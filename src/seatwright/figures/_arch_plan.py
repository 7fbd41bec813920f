"""Where everything on the arch sheet goes: scale, placed teeth, the hollow.

Owns positions on the page; draws nothing.
"""

from dataclasses import dataclass

from seatwright.arch import nominal_layout
from seatwright.case import Arch, Case
from seatwright.figures._outlines import PlacedTooth, place_tooth
from seatwright.figures._svg import Box, Point

__all__ = ["SCALE", "SHEET_WIDTH_MM", "ArchPlan", "place_arch", "plan_arch"]

SHEET_WIDTH_MM = 186.0
"""A4 less its margins."""
SCALE = 2.0
"""Page mm per mm in the mouth: a lower incisor becomes a finger's width."""


@dataclass(frozen=True, slots=True)
class ArchPlan:
    """The arch on the page.

    Attributes
    ----------
    teeth : dict of int to PlacedTooth
        Every position but terminal ones that are absent and not replaced.
    front_down : bool
        True for the mandible.
    top, bottom : float
        Extent of the outlines, page mm.
    hollow : Box
        Free space inside the horseshoe.
    """

    arch: Arch
    teeth: dict[int, PlacedTooth]
    front_down: bool
    top: float
    bottom: float
    hollow: Box

    @property
    def center_x(self) -> float:
        """Page position of the midline."""
        return SHEET_WIDTH_MM / 2

    def along(self) -> list[int]:
        """Return the drawn teeth from the patient's right to the left."""
        return sorted(self.teeth, key=_along)


def plan_arch(case: Case, *, top_mm: float) -> ArchPlan:
    """Place the case's arch below `top_mm` on a sheet of the usual width."""
    shown = [t for t in nominal_layout(case.arch) if not _is_left_out(case, t)]
    return place_arch(case.arch, shown, top_mm=top_mm)


def place_arch(arch: Arch, shown: list[int], *, top_mm: float) -> ArchPlan:
    """Place some teeth of an arch below `top_mm` on a sheet of the usual width."""
    down = arch is Arch.MANDIBLE
    placed = _place(arch, shown, (SHEET_WIDTH_MM / 2, 0.0))
    low, high = _extent(placed)
    placed = _place(arch, shown, (SHEET_WIDTH_MM / 2, top_mm - low))
    return ArchPlan(arch, placed, down, top_mm, top_mm + high - low, _hollow(placed, down))


def _place(arch: Arch, teeth: list[int], origin: Point) -> dict[int, PlacedTooth]:
    layout = nominal_layout(arch)
    return {t: place_tooth(layout[t], arch, origin=origin, scale=SCALE) for t in teeth}


def _extent(placed: dict[int, PlacedTooth]) -> tuple[float, float]:
    return (
        min(float(p.outline[:, 1].min()) for p in placed.values()),
        max(float(p.outline[:, 1].max()) for p in placed.values()),
    )


def _hollow(placed: dict[int, PlacedTooth], down: bool) -> Box:
    """Box inside the horseshoe, from the first molars' level to the canines'."""
    middle = SHEET_WIDTH_MM / 2
    back = [p for t, p in placed.items() if t % 10 in (5, 6)]
    left = max(float(p.outline[:, 0].max()) for p in back if p.center[0] < middle)
    right = min(float(p.outline[:, 0].min()) for p in back if p.center[0] > middle)
    front = [float(p.outline[:, 1].min() if down else p.outline[:, 1].max()) for t, p in placed.items() if t % 10 < 3]
    rear = [p.center[1] for t, p in placed.items() if t % 10 >= 6]
    top, bottom = (min(rear), min(front)) if down else (max(front), max(rear))
    return Box(left + 3, top, right - 3, bottom - 3)


def _is_left_out(case: Case, tooth: int) -> bool:
    return tooth % 10 == 8 and tooth in case.teeth.missing_not_replaced


def _along(tooth: int) -> int:
    quadrant, position = divmod(tooth, 10)
    return position if quadrant in (2, 3) else -position
