"""Where things are on this arch: nominal places, unit regions on a scan."""

from seatwright.arch._layout import ToothPlace, arch_curve_depth_mm, nominal_layout, nominal_span_mm
from seatwright.arch._regions import MeshRegion, RegionSpec, SeedRegion, UnitRegion, assign_regions

__all__ = [
    "MeshRegion",
    "RegionSpec",
    "SeedRegion",
    "ToothPlace",
    "UnitRegion",
    "arch_curve_depth_mm",
    "assign_regions",
    "nominal_layout",
    "nominal_span_mm",
]
