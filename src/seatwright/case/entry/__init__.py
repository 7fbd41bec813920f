"""Entering a plan: gestures for several teeth at once, and the plan with its gaps as a person sees it."""

from seatwright.case.entry._apply import apply_gesture, start_document
from seatwright.case.entry._gestures import (
    ITEM_MODELS,
    CopyUnit,
    Gesture,
    JoinUnits,
    MakeBridge,
    NamePlan,
    PutItem,
    RemoveItem,
    RemoveUnits,
    SetMargins,
    SetTeeth,
    SetTolerance,
    SetUnits,
    gesture_adapter,
)
from seatwright.case.entry._view import EntryAttachment, EntryTooth, EntryView, view_entry

__all__ = [
    "ITEM_MODELS",
    "CopyUnit",
    "EntryAttachment",
    "EntryTooth",
    "EntryView",
    "Gesture",
    "JoinUnits",
    "MakeBridge",
    "NamePlan",
    "PutItem",
    "RemoveItem",
    "RemoveUnits",
    "SetMargins",
    "SetTeeth",
    "SetTolerance",
    "SetUnits",
    "apply_gesture",
    "gesture_adapter",
    "start_document",
    "view_entry",
]
