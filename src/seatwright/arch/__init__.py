"""Where things are on this arch: nominal places, unit regions on a scan."""

from seatwright.arch._layout import ToothPlace, arch_curve_depth_mm, nominal_layout, nominal_span_mm
from seatwright.arch._occlusal import OcclusalFrame, find_occlusal_frame, frame_about
from seatwright.arch._regions import MeshRegion, RegionSpec, SeedRegion, UnitRegion, assign_regions

__all__ = [
    "MeshRegion",
    "OcclusalFrame",
    "RegionSpec",
    "SeedRegion",
    "ToothPlace",
    "UnitRegion",
    "arch_curve_depth_mm",
    "assign_regions",
    "find_occlusal_frame",
    "frame_about",
    "nominal_layout",
    "nominal_span_mm",
]
