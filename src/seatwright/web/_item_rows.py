"""What hangs on the units and goes to the bench as one table: by unit along the arch, then the whole case's."""

from collections.abc import Mapping
from typing import Any

from seatwright.case.entry import EntryView
from seatwright.figures import UNIT_WORDS
from seatwright.web._items import ITEM_WORDS, describe_item

__all__ = ["group_items"]

_WHOLE = 0


def group_items(document: Mapping[str, Any], view: EntryView) -> list[dict[str, Any]]:
    """Return groups of rows: one for each tooth with a unit or an item, from the patient's right, then the whole case.

    A unit without a place on the scan says what would set it, once the case has a scan of its reference.
    """
    rows: dict[int, list[dict[str, Any]]] = {}
    for table in ITEM_WORDS:
        for item in document.get(table, []):
            rows.setdefault(_tooth_of(document, item), []).append(_row(table, item))
    placed = {region.get("tooth") for region in document.get("region", [])}
    has_scan = bool(document.get("scan"))
    groups = []
    for tooth in view.teeth:
        found = rows.get(tooth.tooth, [])
        if not found and tooth.kind is None:
            continue
        is_open = has_scan and tooth.kind is not None and tooth.tooth not in placed
        what = UNIT_WORDS[tooth.kind] if tooth.kind is not None else "natural tooth or gap"
        groups.append({"tooth": tooth.tooth, "what": what, "rows": found, "unplaced": is_open})
    if rows.get(_WHOLE):
        groups.append({"tooth": "", "what": "the whole case", "rows": rows[_WHOLE], "unplaced": False})
    return groups


def _row(table: str, item: Mapping[str, Any]) -> dict[str, Any]:
    name = str(item.get("id", item.get("tooth", "")))
    return {"table": table, "word": ITEM_WORDS[table], "name": name, "said": describe_item(table, item)}


def _tooth_of(document: Mapping[str, Any], item: Mapping[str, Any]) -> int:
    """Return the tooth under which an item stands: its own, its bar's first end; 0 for the whole case."""
    bars = {bar.get("id"): bar for bar in document.get("bar", [])}
    found = item.get("tooth") or item.get("from_tooth") or bars.get(item.get("bar"), {}).get("from_tooth")
    return found if isinstance(found, int) else _WHOLE
