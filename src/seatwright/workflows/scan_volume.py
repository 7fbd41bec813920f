"""The volume that a scan stands for, told so that the base of its cast may be chosen later."""

from typing import TYPE_CHECKING

from seatwright import mesh
from seatwright.workflows.ports import ScanVolume

if TYPE_CHECKING:
    from seatwright.mesh import Surface

__all__ = ["measure_scan_volume"]


def measure_scan_volume(surface: "Surface") -> ScanVolume:
    """Measure what a model with a base encloses, or what stands under an open scan.

    Raises
    ------
    CannotCompute
        The surface is open and looks in no direction.
    """
    if mesh.has_base(surface):
        return ScanVolume(mesh.estimate_enclosed_volume_mm3(surface))
    under_mm3 = mesh.measure_volume_on_base_mm3(surface, base_height_mm=0.0)
    return ScanVolume(None, under_mm3, mesh.measure_plan_area_mm2(surface))
