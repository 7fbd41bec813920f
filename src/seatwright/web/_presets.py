"""What one touch sets at once on the page where a plan is entered: the usual combinations, and the words of the rest.

Thicknesses and depths are common practice, to be corrected where a crown differs.
"""

from typing import Any

from seatwright.case import Body, Intaglio, MarginKind, Veneer

__all__ = ["BODIES", "EDGES", "HANGS", "INTAGLIOS", "PRESETS", "STATES", "VENEERS"]

_CERAMIC = {"gesture": "set_units", "kind": "crown", "body": "noble_alloy", "veneer": "feldspathic"}
_COLLAR = {"gesture": "set_margins", "kind": "metal_collar", "thickness_mm": 0.4}
_BUTT = {"gesture": "set_margins", "kind": "ceramic_butt", "thickness_mm": 1.0, "surfaces": ["facial"]}

PRESETS: list[dict[str, Any]] = [
    {"word": "metal-ceramic, collar", "gestures": [_CERAMIC, _COLLAR]},
    {"word": "metal-ceramic, facial butt", "gestures": [_CERAMIC, _COLLAR, _BUTT]},
    {
        "word": "metal crown, collar",
        "gestures": [{"gesture": "set_units", "kind": "crown", "body": "noble_alloy", "veneer": "none"}, _COLLAR],
    },
    {
        "word": "zirconia",
        "gestures": [
            {"gesture": "set_units", "kind": "crown", "body": "zirconia", "veneer": "none"},
            {"gesture": "set_margins", "kind": "zirconia", "thickness_mm": 0.5},
        ],
    },
    {
        "word": "missing, in the partial",
        "gestures": [{"gesture": "set_teeth", "state": "missing_partial"}],
    },
]
STATES = [
    ("natural tooth", "present"),
    ("implant, no unit", "implants"),
    ("missing, in the partial", "missing_partial"),
    ("missing, not replaced", "missing_not_replaced"),
]
BODIES = [
    ("noble alloy", Body.NOBLE_ALLOY.value),
    ("base metal alloy", Body.BASE_METAL_ALLOY.value),
    ("zirconia", Body.ZIRCONIA.value),
    ("glass-ceramic", Body.GLASS_CERAMIC.value),
]
VENEERS = [
    ("none", Veneer.NONE.value),
    ("feldspathic", Veneer.FELDSPATHIC.value),
    ("composite", Veneer.COMPOSITE.value),
]
EDGES = [
    ("metal collar", MarginKind.METAL_COLLAR.value, 0.4),
    ("metal knife edge", MarginKind.METAL_KNIFE_EDGE.value, 0.2),
    ("ceramic butt", MarginKind.CERAMIC_BUTT.value, 1.0),
    ("glass-ceramic", MarginKind.GLASS_CERAMIC.value, 1.0),
    ("zirconia", MarginKind.ZIRCONIA.value, 0.5),
    ("zirconia, veneered edge", MarginKind.ZIRCONIA_VENEERED.value, 0.8),
]
INTAGLIOS = [(value.value.replace("_", " "), value.value) for value in Intaglio]

_CAST = {"approach": "suprabulge", "form": "cast", "alloy": "cobalt_chromium"}
_WROUGHT = {"form": "wrought", "alloy": "gold"}
HANGS: list[dict[str, Any]] = [
    {"word": "rest, occlusal", "table": "rest", "item": {"kind": "occlusal"}},
    {"word": "rest on the cingulum", "table": "rest", "item": {"kind": "cingulum"}},
    {"word": "cast clasp, cobalt-chromium", "table": "clasp", "item": _CAST},
    {"word": "wrought clasp, gold", "table": "clasp", "item": {"approach": "suprabulge", **_WROUGHT}},
    {"word": "wrought clasp from the gum", "table": "clasp", "item": {"approach": "infrabulge", **_WROUGHT}},
    {"word": "guide plane", "table": "guide_plane", "item": {}},
    {"word": "rigid slide, cast on", "table": "attachment",
     "item": {"kind": "slide", "motion": "rigid", "male_joined": "cast_on"}},
    {"word": "resilient stud, picked up", "table": "attachment",
     "item": {"kind": "stud", "motion": "resilient", "male_joined": "picked_up_in_mouth"}},
]  # fmt: skip
"""What one touch hangs on a unit's side. Sizes are never guessed: they stay gaps until somebody measures them."""
