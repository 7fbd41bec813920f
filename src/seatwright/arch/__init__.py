"""Where things are on this arch: nominal places, unit regions on a scan."""

from seatwright.arch._layout import ToothPlace, arch_curve_depth_mm, nominal_layout, nominal_span_mm

__all__ = ["ToothPlace", "arch_curve_depth_mm", "nominal_layout", "nominal_span_mm"]
