"""Applies one gesture to a plan that is being entered. Guesses nothing: what nobody said stays a gap."""

import copy
from collections.abc import Callable, Iterable, Mapping
from itertools import pairwise
from typing import Any

from seatwright.case._check_teeth import STATE_LISTS
from seatwright.case._document import SCHEMA_VERSION
from seatwright.case._notation import are_adjacent, sort_along_arch, teeth_of_arch
from seatwright.case._terms import Arch, ImpressionRole, JoinKind, UnitKind
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
)
from seatwright.errors import CaseError

__all__ = ["apply_gesture", "start_document"]

Plan = dict[str, Any]

_ABSENT = ("missing_fixed", "missing_partial", "missing_not_replaced")
_ON_IMPLANT = (UnitKind.IMPLANT_SCREWED.value, UnitKind.ON_ABUTMENT.value)
_WITHOUT_MARGIN = (UnitKind.PONTIC.value, UnitKind.IMPLANT_SCREWED.value)
_NOT_COPIED = frozenset({"tooth", "neck_mm", "margin_center_mm"})  # measured on the unit itself


def start_document(code: str, arch: Arch) -> Plan:
    """Return a plan with all sixteen teeth standing and nothing on them."""
    teeth: Plan = {name: [] for name in STATE_LISTS}
    teeth["present"] = list(teeth_of_arch(arch))
    return {"schema": SCHEMA_VERSION, "code": code, "title": "", "arch": arch.value, "teeth": teeth, "unit": []}


def apply_gesture(document: Mapping[str, Any], gesture: Gesture) -> Plan:
    """Return the plan after a gesture; the one given stays as it is.

    Parameters
    ----------
    document : mapping
        Plain data, as in ``case.toml``; may have gaps.
    gesture : Gesture

    Raises
    ------
    CaseError
        The gesture cannot be done on this plan, such as a bridge over teeth that are no neighbors.
    """
    plan: Plan = copy.deepcopy(dict(document))
    for tooth in _teeth_in(gesture):
        if tooth not in teeth_of_arch(Arch(plan["arch"])):
            raise CaseError(f"{tooth} is not a tooth of the {plan['arch']}", hint="a case describes one arch")
    _APPLY[type(gesture)](plan, gesture)
    return plan


def _teeth_in(gesture: Gesture) -> tuple[int, ...]:
    teeth: tuple[int, ...] = getattr(gesture, "teeth", ())
    return (*teeth, gesture.like) if isinstance(gesture, CopyUnit) else teeth


def _set_teeth(plan: Plan, gesture: SetTeeth) -> None:
    for tooth in gesture.teeth:
        if _unit(plan, tooth) is not None:
            _remove_unit(plan, tooth)
        _place(plan, tooth, gesture.state)


def _set_units(plan: Plan, gesture: SetUnits) -> None:
    said = gesture.model_dump(mode="json", exclude_none=True, exclude={"gesture", "teeth"})
    for tooth in gesture.teeth:
        unit = _unit(plan, tooth)
        if unit is None and "kind" not in said:
            raise CaseError(f"there is no unit at {tooth} yet", hint="say first what it is: crown, pontic ...")
        _write_unit(plan, {**(unit or {"tooth": tooth}), **said})


def _set_margins(plan: Plan, gesture: SetMargins) -> None:
    edge = {
        "kind": gesture.kind.value,
        "thickness_mm": gesture.thickness_mm,
        "subgingival_mm": gesture.subgingival_mm,
    }
    for tooth in gesture.teeth:
        unit = _require_unit(plan, tooth)
        if unit.get("kind") in _WITHOUT_MARGIN:
            continue  # swept over with the others: a pontic has no edge to set
        unit["margin"] = {**unit.get("margin", {}), **{s.value: dict(edge) for s in gesture.surfaces}}


def _copy_unit(plan: Plan, gesture: CopyUnit) -> None:
    model = {key: value for key, value in _require_unit(plan, gesture.like).items() if key not in _NOT_COPIED}
    for tooth in gesture.teeth:
        if tooth == gesture.like:
            continue
        own = {key: value for key, value in (_unit(plan, tooth) or {}).items() if key in _NOT_COPIED}
        _write_unit(plan, {"tooth": tooth, **own, **copy.deepcopy(model)})


def _make_bridge(plan: Plan, gesture: MakeBridge) -> None:
    teeth = _in_a_row(plan, gesture.teeth, "bridge")
    pontics = {t for t in teeth if t in gesture.pontics or _state(plan, t) in _ABSENT}
    if pontics >= set(teeth):
        raise CaseError(
            "a bridge needs a tooth or an implant that carries it", hint="begin the sweep on a standing tooth"
        )
    for tooth in teeth:
        unit = _unit(plan, tooth) or {"tooth": tooth}
        if tooth in pontics:
            _write_unit(plan, {**unit, "kind": UnitKind.PONTIC.value})
        elif "kind" not in unit:
            on_implant = _state(plan, tooth) == "implants"
            _write_unit(plan, {**unit, "kind": (UnitKind.ON_ABUTMENT if on_implant else UnitKind.CROWN).value})
    _join(plan, teeth, JoinKind.BRIDGE)


def _join_units(plan: Plan, gesture: JoinUnits) -> None:
    teeth = _in_a_row(plan, gesture.teeth, "splint")
    for tooth in teeth:
        _require_unit(plan, tooth)
    _join(plan, teeth, JoinKind.SPLINT)


def _remove_units(plan: Plan, gesture: RemoveUnits) -> None:
    for tooth in gesture.teeth:
        was = (_unit(plan, tooth) or {}).get("kind")
        _remove_unit(plan, tooth)
        if was == UnitKind.PONTIC.value:
            _place(plan, tooth, "missing_partial")


def _put_item(plan: Plan, gesture: PutItem) -> None:
    key = _key_of(gesture.table)
    name = gesture.item.get(key)
    if name in (None, ""):
        raise CaseError(f"this {gesture.table.replace('_', ' ')} has no {key}", hint=f"give it a {key}")
    model = ITEM_MODELS.get(gesture.table)
    unknown = [] if model is None else sorted(set(gesture.item) - set(model.model_fields))
    if unknown:
        raise CaseError(f"a {gesture.table.replace('_', ' ')} has no {unknown[0]}", hint="leave it out")
    items: list[Plan] = plan.setdefault(gesture.table, [])
    index = next((i for i, item in enumerate(items) if item.get(key) == name), None)
    if index is None:
        items.append(dict(gesture.item))
    else:
        items[index] = dict(gesture.item)


def _remove_item(plan: Plan, gesture: RemoveItem) -> None:
    key = _key_of(gesture.table)
    left = [item for item in plan.get(gesture.table, []) if str(item.get(key)) != gesture.id]
    if len(left) == len(plan.get(gesture.table, [])):
        raise CaseError(f"there is no {gesture.table.replace('_', ' ')} {gesture.id}", hint="it may be gone already")
    _replace(plan, gesture.table, left)


def _set_tolerance(plan: Plan, gesture: SetTolerance) -> None:
    plan["tolerance"] = {"unit_shift_um": gesture.unit_shift_um, "reason": gesture.reason}


def _name_plan(plan: Plan, gesture: NamePlan) -> None:
    if gesture.title is not None:
        plan["title"] = gesture.title
    if gesture.arch is not None and gesture.arch.value != plan["arch"]:
        if plan.get("unit"):
            raise CaseError("the other arch needs another case", hint="take the units off first, or begin a new case")
        plan.update({k: v for k, v in start_document(plan["code"], gesture.arch).items() if k in ("arch", "teeth")})


_APPLY: dict[type, Callable[[Plan, Any], None]] = {
    SetTeeth: _set_teeth,
    SetUnits: _set_units,
    SetMargins: _set_margins,
    CopyUnit: _copy_unit,
    MakeBridge: _make_bridge,
    JoinUnits: _join_units,
    RemoveUnits: _remove_units,
    PutItem: _put_item,
    RemoveItem: _remove_item,
    SetTolerance: _set_tolerance,
    NamePlan: _name_plan,
}


def _key_of(table: str) -> str:
    return "tooth" if table == "region" else "id"


def _unit(plan: Plan, tooth: int) -> Plan | None:
    return next((unit for unit in plan.get("unit", []) if unit.get("tooth") == tooth), None)


def _require_unit(plan: Plan, tooth: int) -> Plan:
    unit = _unit(plan, tooth)
    if unit is None:
        raise CaseError(f"there is no unit at {tooth} yet", hint="say first what it is: crown, pontic ...")
    return unit


def _write_unit(plan: Plan, unit: Plan) -> None:
    kind, tooth = unit["kind"], unit["tooth"]
    if kind in _WITHOUT_MARGIN:
        unit = {key: value for key, value in unit.items() if key not in ("margin", "neck_mm", "margin_center_mm")}
    if kind == UnitKind.PONTIC.value:
        _place(plan, tooth, "missing_fixed")
    elif kind in _ON_IMPLANT:
        _place(plan, tooth, "implants")
    elif kind == UnitKind.CROWN.value or _state(plan, tooth) in ("", *_ABSENT):
        _place(plan, tooth, "present")
    units = [other for other in plan["unit"] if other.get("tooth") != tooth]
    order = {t: i for i, t in enumerate(teeth_of_arch(Arch(plan["arch"])))}
    plan["unit"] = sorted([*units, unit], key=lambda u: order[u["tooth"]])
    _lift(plan, tooth)


def _lift(plan: Plan, tooth: int) -> None:
    """Let the only pick-up lift a new unit too; with several, a person says which."""
    pick_ups = [i for i in plan.get("impression", []) if i.get("role") == ImpressionRole.PICK_UP.value]
    if len(pick_ups) == 1 and tooth not in pick_ups[0].get("lifts", []):
        pick_ups[0]["lifts"] = list(sort_along_arch((*pick_ups[0].get("lifts", []), tooth)))


def _remove_unit(plan: Plan, tooth: int) -> None:
    """Take a unit out with its places in joins, its attachments, bars, region, returned die and lift."""
    plan["unit"] = [unit for unit in plan["unit"] if unit.get("tooth") != tooth]
    joins = [{**j, "units": [t for t in j.get("units", []) if t != tooth]} for j in plan.get("join", [])]
    _replace(plan, "join", [j for j in joins if len(j["units"]) > 1])
    bars = [b for b in plan.get("bar", []) if tooth not in (b.get("from_tooth"), b.get("to_tooth"))]
    _replace(plan, "bar", bars)
    kept = {b.get("id") for b in bars}
    held = [a for a in plan.get("attachment", []) if a.get("tooth") != tooth]
    _replace(plan, "attachment", [a for a in held if a.get("bar") is None or a["bar"] in kept])
    for table in ("region", "returned_die"):
        _replace(plan, table, [item for item in plan.get(table, []) if item.get("tooth") != tooth])
    for impression in plan.get("impression", []):
        if tooth in impression.get("lifts", []):
            impression["lifts"] = [t for t in impression["lifts"] if t != tooth]


def _replace(plan: Plan, table: str, items: list[Plan]) -> None:
    if items:
        plan[table] = items
    else:
        plan.pop(table, None)


def _state(plan: Plan, tooth: int) -> str:
    return next((name for name in STATE_LISTS if tooth in plan["teeth"].get(name, [])), "")


def _place(plan: Plan, tooth: int, state: str) -> None:
    for name in STATE_LISTS:
        listed = plan["teeth"].setdefault(name, [])
        if tooth in listed and name != state:
            listed.remove(tooth)
    if tooth not in plan["teeth"][state]:
        plan["teeth"][state] = list(sort_along_arch((*plan["teeth"][state], tooth)))


def _in_a_row(plan: Plan, teeth: Iterable[int], noun: str) -> tuple[int, ...]:
    row = sort_along_arch(tuple(dict.fromkeys(teeth)))
    for one, other in pairwise(row):
        if not are_adjacent(one, other):
            raise CaseError(f"{one} and {other} are no neighbors in the {plan['arch']}", hint=f"a {noun} leaves no gap")
    return row


def _join(plan: Plan, teeth: tuple[int, ...], kind: JoinKind) -> None:
    """Put a new join in the place of all that it swallows; one that only overlaps is left for the checks to tell."""
    left = [j for j in plan.get("join", []) if not set(j.get("units", [])) <= set(teeth)]
    join = {"id": f"{kind.value}-{teeth[0]}-{teeth[-1]}", "kind": kind.value, "units": list(teeth)}
    _replace(plan, "join", [*left, join])
