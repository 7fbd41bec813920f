"""Where things are on this arch: nominal places, unit regions on a scan."""

from typing import TYPE_CHECKING

from seatwright.late import open_late

if TYPE_CHECKING:
    from seatwright.arch._axes import fit_patient_axes, tooth_axes
    from seatwright.arch._layout import ToothPlace, arch_curve_depth_mm, nominal_layout, nominal_span_mm
    from seatwright.arch._occlusal import OcclusalFrame, find_occlusal_frame, frame_about
    from seatwright.arch._regions import MeshRegion, RegionSpec, SeedRegion, UnitRegion, assign_regions
else:
    __getattr__ = open_late(__name__, __file__)

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
    "fit_patient_axes",
    "frame_about",
    "nominal_layout",
    "nominal_span_mm",
    "tooth_axes",
]
