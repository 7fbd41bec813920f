"""What one touch sets at once on the page where a plan is entered: the usual combinations, and the words of the rest.

Thicknesses and depths are common practice, to be corrected where a crown differs.
"""

from typing import Any

from seatwright.case import Body, Intaglio, MarginKind, Veneer
from seatwright.web._texts import catalogue

__all__ = ["BODIES", "EDGES", "HANGS", "INTAGLIOS", "PRESETS", "STATES", "VENEERS"]

_SAY = catalogue()["presets"]
_CERAMIC = {"gesture": "set_units", "kind": "crown", "body": "noble_alloy", "veneer": "feldspathic"}
_COLLAR = {"gesture": "set_margins", "kind": "metal_collar", "thickness_mm": 0.4}
_BUTT = {"gesture": "set_margins", "kind": "ceramic_butt", "thickness_mm": 1.0, "surfaces": ["facial"]}

PRESETS: list[dict[str, Any]] = [
    {"word": _SAY["metal_ceramic_collar"], "gestures": [_CERAMIC, _COLLAR]},
    {"word": _SAY["metal_ceramic_facial_butt"], "gestures": [_CERAMIC, _COLLAR, _BUTT]},
    {
        "word": _SAY["metal_crown_collar"],
        "gestures": [{"gesture": "set_units", "kind": "crown", "body": "noble_alloy", "veneer": "none"}, _COLLAR],
    },
    {
        "word": _SAY["zirconia"],
        "gestures": [
            {"gesture": "set_units", "kind": "crown", "body": "zirconia", "veneer": "none"},
            {"gesture": "set_margins", "kind": "zirconia", "thickness_mm": 0.5},
        ],
    },
    {
        "word": _SAY["missing_in_the_partial"],
        "gestures": [{"gesture": "set_teeth", "state": "missing_partial"}],
    },
]
STATES = [
    (_SAY["natural_tooth"], "present"),
    (_SAY["implant_no_unit"], "implants"),
    (_SAY["missing_in_the_partial"], "missing_partial"),
    (_SAY["missing_not_replaced"], "missing_not_replaced"),
]
BODIES = [
    (_SAY["noble_alloy"], Body.NOBLE_ALLOY.value),
    (_SAY["base_metal_alloy"], Body.BASE_METAL_ALLOY.value),
    (_SAY["zirconia"], Body.ZIRCONIA.value),
    (_SAY["glass_ceramic"], Body.GLASS_CERAMIC.value),
]
VENEERS = [
    (_SAY["none"], Veneer.NONE.value),
    (_SAY["feldspathic"], Veneer.FELDSPATHIC.value),
    (_SAY["composite"], Veneer.COMPOSITE.value),
]
EDGES = [
    (_SAY["metal_collar"], MarginKind.METAL_COLLAR.value, 0.4),
    (_SAY["metal_knife_edge"], MarginKind.METAL_KNIFE_EDGE.value, 0.2),
    (_SAY["ceramic_butt"], MarginKind.CERAMIC_BUTT.value, 1.0),
    (_SAY["glass_ceramic"], MarginKind.GLASS_CERAMIC.value, 1.0),
    (_SAY["zirconia"], MarginKind.ZIRCONIA.value, 0.5),
    (_SAY["zirconia_veneered_edge"], MarginKind.ZIRCONIA_VENEERED.value, 0.8),
]
INTAGLIOS = [(value.value.replace("_", " "), value.value) for value in Intaglio]

_CAST = {"approach": "suprabulge", "form": "cast", "alloy": "cobalt_chromium"}
_WROUGHT = {"form": "wrought", "alloy": "gold"}
HANGS: list[dict[str, Any]] = [
    {"word": _SAY["rest_occlusal"], "table": "rest", "item": {"kind": "occlusal"}},
    {"word": _SAY["rest_on_the_cingulum"], "table": "rest", "item": {"kind": "cingulum"}},
    {"word": _SAY["cast_clasp_cobalt_chromium"], "table": "clasp", "item": _CAST},
    {"word": _SAY["wrought_clasp_gold"], "table": "clasp", "item": {"approach": "suprabulge", **_WROUGHT}},
    {"word": _SAY["wrought_clasp_from_the_gum"], "table": "clasp", "item": {"approach": "infrabulge", **_WROUGHT}},
    {"word": _SAY["guide_plane"], "table": "guide_plane", "item": {}},
    {"word": _SAY["rigid_slide_cast_on"], "table": "attachment",
     "item": {"kind": "slide", "motion": "rigid", "male_joined": "cast_on"}},
    {"word": _SAY["resilient_stud_picked_up"], "table": "attachment",
     "item": {"kind": "stud", "motion": "resilient", "male_joined": "picked_up_in_mouth"}},
]  # fmt: skip
"""What one touch hangs on a unit's side. Sizes are never guessed: they stay gaps until somebody measures them."""
