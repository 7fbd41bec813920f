"""Contradictions in what comes to the bench: impressions, returned dies, scans and their regions. Pure."""

import math
from collections.abc import Iterator
from typing import Final

from seatwright.case._check_teeth import state_of
from seatwright.case._document import Case
from seatwright.case._faults import closest_hint, find_repeated
from seatwright.case._impressions import HandReadings, Impression, Region, Scan
from seatwright.case._notation import teeth_of_arch
from seatwright.case._terms import Arch, ImpressionRole, ScanOf, ScanRole, UnitKind
from seatwright.errors import Fault

__all__ = ["check_delivery", "path_fault"]

_MAX_NAME_BYTES = 200  # judgement: file systems take 255 bytes a name; some room for a suffix
_MAX_FOLDERS = 20  # judgement: keeps a whole path below what any system takes

_MOST_TO_MARGIN_MM = 15.0  # judgement: no crown is longer; farther off the numbers belong to another frame or tooth

_SCANNED: Final = {
    ScanRole.REFERENCE: (ScanOf.MOUTH, ScanOf.VERIFIED_CAST, ScanOf.INDEX),
    ScanRole.POURED: (ScanOf.POURED_CAST,),
    ScanRole.OPPOSING: tuple(ScanOf),
}


def check_delivery(case: Case) -> Iterator[Fault]:
    """Yield what is wrong with impressions, returned dies, scans and regions."""
    yield from find_repeated("impression", "id", [i.id for i in case.impression])
    for i, impression in enumerate(case.impression):
        yield from _check_impression(case, impression, f"impression[{i}]")
        yield from _check_maker(impression, f"impression[{i}]")
        yield from _check_retake(case, i, f"impression[{i}].replaces")
    yield from _check_lifted_once(case)
    yield from _check_bodies(case)
    yield from _check_dies(case)
    yield from find_repeated("scan", "id", [s.id for s in case.scan])
    for i, scan in enumerate(case.scan):
        yield from _check_scan(case, scan, f"scan[{i}]")
    references = [i for i, s in enumerate(case.scan) if s.role is ScanRole.REFERENCE]
    for i in references[1:]:
        yield Fault(
            f"scan[{i}].role", "there are two reference scans", "keep the one that regions and axes are given in"
        )
    yield from find_repeated("region", "tooth", [r.tooth for r in case.region])
    for i, region in enumerate(case.region):
        yield from _check_region(case, region, f"region[{i}]")
    yield from _check_by_hand(case.by_hand)
    if case.region and not references:
        yield Fault("region", "regions are given, but no reference scan", "add a [[scan]] with role reference")


def path_fault(path: str) -> str:
    """Return what is wrong with a path that must stay inside the case folder; empty when it may pass.

    Examples
    --------
    >>> path_fault("scans/reference.ply"), path_fault("../reference.ply")
    ('', 'leaves the case folder')
    """
    if "\\" in path or ":" in path:
        return "holds a backslash or a colon"
    if not path.isprintable():
        return "holds an invisible character"
    if path.startswith(("/", "~")):
        return "is absolute"
    parts = path.split("/")
    if ".." in parts:
        return "leaves the case folder"
    if any(part.strip() in ("", ".") or part != part.strip() for part in parts):
        return "has an empty part, or one that begins or ends with a space"
    if any(len(part.encode()) > _MAX_NAME_BYTES for part in parts) or len(parts) > _MAX_FOLDERS:
        return "is too long"
    return ""


def other_arch(arch: Arch) -> Arch:
    """Return the opposing arch."""
    return Arch.MANDIBLE if arch is Arch.MAXILLA else Arch.MAXILLA


def _check_impression(case: Case, impression: Impression, where: str) -> Iterator[Fault]:
    is_pick_up = impression.role is ImpressionRole.PICK_UP
    wanted = other_arch(case.arch) if impression.role is ImpressionRole.OPPOSING else case.arch
    if impression.arch is not wanted:
        yield Fault(
            f"{where}.arch",
            f"a {impression.role} impression of this case is of the {wanted}, not the {impression.arch}",
            "correct arch or role",
        )
    if is_pick_up and impression.route is None:
        yield Fault(
            f"{where}.route",
            f"pick-up {impression.id} does not say its route",
            "say overall, transfer_base or planned_reline",
        )
    if not is_pick_up and impression.route is not None:
        yield Fault(
            f"{where}.route", f"a {impression.role} impression has no route", "remove it, or set role to pick_up"
        )
    if is_pick_up and not impression.lifts:
        yield Fault(f"{where}.lifts", f"pick-up {impression.id} lifts no unit", "name the units that come out in it")
    if not is_pick_up and impression.lifts:
        yield Fault(
            f"{where}.lifts", f"a {impression.role} impression lifts no units", "remove them, or correct the role"
        )
        return
    units = {u.tooth for u in case.unit}
    for i, tooth in enumerate(impression.lifts):
        if tooth not in units:
            hint = closest_hint(tooth, sorted(units), noun="unit")
            yield Fault(f"{where}.lifts[{i}]", f"{tooth} is no unit of this case", hint)
        elif tooth in impression.lifts[:i]:
            yield Fault(f"{where}.lifts[{i}]", f"{tooth} stands twice in this list", "remove one of the two")


def _check_maker(impression: Impression, where: str) -> Iterator[Fault]:
    first, last = impression.maker.pour_from_min, impression.maker.pour_within_min
    if first is not None and last is not None and first > last:
        yield Fault(
            f"{where}.maker.pour_from_min",
            f"the window of {impression.id} opens after {first:g} min, but closes after {last:g}",
            "read the maker's sheet again: from when, and until when, to pour",
        )


def _check_retake(case: Case, index: int, where: str) -> Iterator[Fault]:
    impression = case.impression[index]
    if impression.replaces is None:
        return
    earlier = [i.id for i in case.impression[:index]]
    if impression.replaces not in earlier:
        close = closest_hint(impression.replaces, earlier, noun="earlier impression")
        yield Fault(
            where,
            f"no earlier impression is called {impression.replaces}",
            f"write the retake below the impression that it replaces; {close}",
        )
        return
    replaced = case.impression_by_id(impression.replaces)
    if (replaced.role, replaced.arch) != (impression.role, impression.arch):
        yield Fault(
            where,
            f"{replaced.id} is a {replaced.role} impression of the {replaced.arch}",
            "a retake has the same role and arch",
        )
    if impression.replaces in [i.replaces for i in case.impression[:index]]:
        yield Fault(where, f"{impression.replaces} is replaced already", "let this one replace the later retake")


def _check_lifted_once(case: Case) -> Iterator[Fault]:
    pick_ups = [i for i in case.current_impressions() if i.role is ImpressionRole.PICK_UP]
    if not pick_ups:
        return
    for i, unit in enumerate(case.unit):
        lifting = [p.id for p in pick_ups if unit.tooth in p.lifts]
        if len(lifting) > 1:
            yield Fault(
                f"unit[{i}]",
                f"{unit.tooth} is lifted by {' and '.join(lifting)}",
                "name it in the lifts of one pick-up; a retake says replaces",
            )
        elif not lifting and unit.kind is not UnitKind.PONTIC:
            yield Fault(
                f"unit[{i}]", f"no pick-up lifts {unit.tooth}", "name it in the lifts of one pick-up impression"
            )


def _check_bodies(case: Case) -> Iterator[Fault]:
    linked = [(f"join[{i}].units", j.units) for i, j in enumerate(case.join)]
    linked += [(f"bar[{i}]", (b.from_tooth, b.to_tooth)) for i, b in enumerate(case.bar)]
    for where, units in linked:
        lifting = sorted({p.id for t in units if (p := case.pick_up_of(t)) is not None})
        if len(lifting) > 1:
            yield Fault(
                where,
                f"one rigid body, but lifted by {' and '.join(lifting)}",
                "name all its units in the lifts of one pick-up",
            )


def _check_by_hand(readings: HandReadings | None) -> Iterator[Fault]:
    if readings is None:
        return
    if readings.distances is None and readings.gaps is None:
        yield Fault("by_hand", "names no readings", "give distances or gaps, a CSV file inside the case folder")
    for field, name in (("distances", readings.distances), ("gaps", readings.gaps)):
        if name is not None and (wrong := path_fault(name)):
            yield Fault(f"by_hand.{field}", f"path {name!r} {wrong}", "write a path inside the case folder")


def _check_dies(case: Case) -> Iterator[Fault]:
    yield from find_repeated("returned_die", "id", [d.id for d in case.returned_die])
    units = {u.tooth: u for u in case.unit}
    for i, die in enumerate(case.returned_die):
        if die.tooth not in units:
            hint = closest_hint(die.tooth, units, noun="unit")
            yield Fault(f"returned_die[{i}].tooth", f"{die.tooth} is no unit of this case", hint)
        elif units[die.tooth].kind is UnitKind.PONTIC:
            yield Fault(f"returned_die[{i}].tooth", f"{die.tooth} is a pontic and has no die", "correct the tooth")


def _check_scan(case: Case, scan: Scan, where: str) -> Iterator[Fault]:
    wanted = other_arch(case.arch) if scan.role is ScanRole.OPPOSING else case.arch
    if scan.arch is not wanted:
        yield Fault(
            f"{where}.arch",
            f"a {scan.role} scan of this case is of the {wanted}, not the {scan.arch}",
            "correct arch or role",
        )
    if scan.of not in _SCANNED[scan.role]:
        yield Fault(
            f"{where}.of",
            f"a {scan.role} scan cannot be of a {scan.of}",
            f"it is of: {', '.join(_SCANNED[scan.role])}; correct of or role",
        )
    if wrong := path_fault(scan.file):
        yield Fault(
            f"{where}.file",
            f"path {scan.file!r} {wrong}",
            "write a path inside the case folder, such as scans/reference.ply",
        )
    yield from _check_reseated(case, scan, where)
    yield from _check_repeat(case, scan, where)
    ids = [i.id for i in case.impression]
    if scan.impression is not None and scan.impression not in ids:
        hint = closest_hint(scan.impression, ids, noun="impression")
        yield Fault(f"{where}.impression", f"there is no impression {scan.impression}", hint)
    elif scan.impression is not None and case.impression_by_id(scan.impression).arch is not scan.arch:
        yield Fault(
            f"{where}.impression", f"{scan.impression} is of the other arch", "name the impression this cast came from"
        )
    elif scan.impression is None and scan.role is ScanRole.POURED:
        yield Fault(
            f"{where}.impression",
            f"poured scan {scan.id} does not say which impression it came from",
            "name the impression that was poured into this cast",
        )


def _check_repeat(case: Case, scan: Scan, where: str) -> Iterator[Fault]:
    if scan.repeat_of is None:
        return
    earlier = [s for s in case.scan[: case.scan.index(scan)] if s.role is ScanRole.POURED]
    first = next((s for s in earlier if s.id == scan.repeat_of), None)
    if scan.role is not ScanRole.POURED or first is None:
        hint = closest_hint(scan.repeat_of, [s.id for s in earlier], noun="earlier scan of a poured cast")
        yield Fault(f"{where}.repeat_of", f"{scan.id} repeats no poured scan that stands before it", hint)
    elif first.repeat_of is not None:
        yield Fault(f"{where}.repeat_of", f"{first.id} is a repeat itself", f"name {first.repeat_of}")
    elif first.impression != scan.impression or set(first.reseated) != set(scan.reseated):
        yield Fault(
            f"{where}.repeat_of",
            f"{scan.id} and {first.id} do not show the same cast with the same crowns put back",
            "give both the same impression and reseated, or leave repeat_of out",
        )


def _check_reseated(case: Case, scan: Scan, where: str) -> Iterator[Fault]:
    units = {u.tooth for u in case.unit}
    for k, tooth in enumerate(scan.reseated):
        if scan.role is not ScanRole.POURED:
            yield Fault(f"{where}.reseated", f"{scan.id} is no scan of a poured cast", "state it for the poured scan")
            break
        if tooth not in units:
            hint = closest_hint(tooth, units, noun="unit")
            yield Fault(f"{where}.reseated[{k}]", f"{tooth} is no unit of this case", hint)
    if scan.reseat_um is not None and not scan.reseated:
        yield Fault(f"{where}.reseat_um", "no crown is said to have been put back", "name the units in reseated")


def _check_region(case: Case, region: Region, where: str) -> Iterator[Fault]:
    if region.tooth not in teeth_of_arch(case.arch):
        yield Fault(f"{where}.tooth", f"{region.tooth} is not a tooth of the {case.arch}", "a case describes one arch")
    elif state_of(case.teeth, region.tooth) in ("missing_partial", "missing_not_replaced"):
        yield Fault(f"{where}.tooth", f"nothing stands at {region.tooth}", "name a unit or a standing tooth")
    margin = next((u.margin_center_mm for u in case.unit if u.tooth == region.tooth), None)
    if region.seed_mm is not None and margin is not None and math.dist(region.seed_mm, margin) > _MOST_TO_MARGIN_MM:
        yield Fault(
            f"{where}.seed_mm",
            f"the margin center of {region.tooth} lies {math.dist(region.seed_mm, margin):.0f} mm from its region",
            "give both in the reference scan's frame, in mm",
        )
    has_seed, has_radius = region.seed_mm is not None, region.radius_mm is not None
    if region.mesh is None and not (has_seed and has_radius):
        missing = "radius_mm" if has_seed else "seed_mm" if has_radius else "seed_mm and radius_mm"
        yield Fault(where, f"region {region.tooth} lacks {missing}", "give seed_mm and radius_mm, or mesh alone")
    if region.mesh is not None and (has_seed or has_radius):
        yield Fault(
            where, f"region {region.tooth} has both a mesh and a seed", "give seed_mm and radius_mm, or mesh alone"
        )
    if region.mesh is not None and (wrong := path_fault(region.mesh)):
        yield Fault(
            f"{where}.mesh",
            f"path {region.mesh!r} {wrong}",
            "write a path inside the case folder, such as scans/crown23.stl",
        )
