"""Each contradiction names exactly the places that are wrong, and no others."""

import pytest
from tests.examples import (
    PICK_UP,
    demo_attachments,
    demo_bench,
    demo_case,
    demo_case_with_unit,
    demo_impressions,
    demo_returned_die,
    demo_scans,
    demo_teeth,
    demo_units,
)

from seatwright.case import (
    PERMANENT_TEETH,
    Arch,
    Bar,
    Case,
    CoreKind,
    HandReadings,
    ImpressionRole,
    Join,
    JoinKind,
    MakerWindow,
    Region,
    ScanOf,
    ScanRole,
    UnitKind,
    classify_support,
    closest_hint,
    parse_case,
    path_fault,
    validate_bench,
    validate_case,
)

BRIDGE = Join(id="bridge-33-35", kind=JoinKind.BRIDGE, units=(33, 34, 35))
SPLINT = Join(id="splint-42-43", kind=JoinKind.SPLINT, units=(42, 43))
PICK, OPPOSED = demo_impressions()
REFERENCE, POURED = demo_scans()


def _bridge(*units: int, kind: JoinKind = JoinKind.BRIDGE) -> Case:
    return demo_case(join=(BRIDGE.model_copy(update={"units": units, "kind": kind}), SPLINT))


def _attachment(index: int, **other: object) -> Case:
    changed = list(demo_attachments())
    changed[index] = changed[index].model_copy(update=other)
    return demo_case(attachment=tuple(changed))


def _impressions(
    *, pick: dict[str, object] | None = None, opposed: dict[str, object] | None = None, more: tuple = ()
) -> Case:
    return demo_case(impression=(PICK.model_copy(update=pick or {}), OPPOSED.model_copy(update=opposed or {}), *more))


def _scans(
    *, reference: dict[str, object] | None = None, poured: dict[str, object] | None = None, more: tuple = ()
) -> Case:
    return demo_case(scan=(REFERENCE.model_copy(update=reference or {}), POURED.model_copy(update=poured or {}), *more))


def _region(**other: object) -> Case:
    fields: dict[str, object] = {"tooth": 37, "seed_mm": (0.0, 0.0, 0.0), "radius_mm": 3.0}
    return demo_case(region=(Region(**(fields | other)),))


def _retake(**other: object) -> Case:
    return _impressions(more=(PICK.model_copy(update={"id": "pickup-2", "replaces": PICK_UP} | other),))


FAULTS: dict[str, tuple[Case, list[str]]] = {
    "sound": (demo_case(), []),
    "teeth of the other arch": (
        demo_case(teeth=demo_teeth(missing_not_replaced=(38, 48, 18))), ["teeth.missing_not_replaced[2]"]
    ),
    "tooth in two lists": (
        demo_case(teeth=demo_teeth(missing_not_replaced=(38, 48, 36))), ["teeth.missing_not_replaced[2]"]
    ),
    "tooth twice in one list": (
        demo_case(teeth=demo_teeth(missing_not_replaced=(38, 48, 38))), ["teeth.missing_not_replaced[2]"]
    ),
    "tooth in no list": (demo_case(teeth=demo_teeth(missing_not_replaced=(38,))), ["teeth"]),
    "no third molar": (
        demo_case(teeth=demo_teeth(third_molar_abutments=(37,))), ["teeth.third_molar_abutments[0]"]
    ),
    "third molar that is not there": (
        demo_case(teeth=demo_teeth(third_molars_not_abutments=(38,))), ["teeth.third_molars_not_abutments[0]"]
    ),
    "third molar of both intents": (
        demo_case(
            teeth=demo_teeth(
                present=(37, 35, 33, 42, 43, 44, 38), missing_not_replaced=(48,),
                third_molar_abutments=(38,), third_molars_not_abutments=(38,),
            )
        ),
        ["teeth.third_molars_not_abutments[0]"],
    ),
    "third molar of the other arch": (
        demo_case(teeth=demo_teeth(third_molar_abutments=(18,))), ["teeth.third_molar_abutments[0]"]
    ),
    "third molar twice": (
        demo_case(
            teeth=demo_teeth(
                present=(37, 35, 33, 42, 43, 44, 38), missing_not_replaced=(48,), third_molar_abutments=(38, 38)
            )
        ),
        ["teeth.third_molar_abutments[1]"],
    ),
    "unit of the other arch": (
        demo_case(unit=(*demo_units(), demo_units()[6].model_copy(update={"tooth": 14}))), ["unit[8]", "unit[8].tooth"]
    ),
    "bridge of pontics alone": (
        demo_case(
            teeth=demo_teeth(present=(37, 35, 42, 43, 44), missing_fixed=(34, 33)),
            unit=tuple(demo_units()[2].model_copy(update={"tooth": 33}) if u.tooth == 33 else u for u in demo_units()),
            join=(BRIDGE.model_copy(update={"units": (33, 34)}), SPLINT),
        ),
        ["join[0].units"],
    ),
    "splint over a tooth that is not replaced": (
        demo_case(
            unit=(*demo_units(), demo_units()[6].model_copy(update={"tooth": 38})),
            join=(BRIDGE, SPLINT, Join(id="s2", kind=JoinKind.SPLINT, units=(37, 38))),
        ),
        ["unit[8].kind", "unit[8]"],
    ),
    "crown on a missing tooth": (demo_case_with_unit(34, kind=UnitKind.CROWN), [
        "unit[2].kind", "unit[2].margin", "unit[2].neck_mm", "join[0].kind", "teeth.missing_fixed[0]",
    ]),
    "crown on an implant": (
        demo_case(unit=(*demo_units()[:-1], demo_units()[6].model_copy(update={"tooth": 45}))), ["unit[7].kind"]
    ),
    "no margins": (demo_case_with_unit(44, margin=None), ["unit[6].margin"]),
    "no neck": (demo_case_with_unit(44, neck_mm=None), ["unit[6].neck_mm"]),
    "conus without a taper": (demo_case_with_unit(37, wall_taper_deg=None), ["unit[0].wall_taper_deg"]),
    "crown with a taper": (demo_case_with_unit(44, wall_taper_deg=6.0), ["unit[6].wall_taper_deg"]),
    "core under a pontic": (demo_case_with_unit(34, core=CoreKind.BUILD_UP), ["unit[2].core"]),
    "plugged screw under a tooth": (demo_case_with_unit(44, abutment_screw_plugged=True), ["unit[6].abutment_screw_plugged"]),
    "bridge out of order": (_bridge(33, 35, 34), ["join[0].units"]),
    "bridge right to left": (_bridge(35, 34, 33), []),
    "bridge with a gap": (_bridge(35, 34, 37), ["join[0].units"]),
    "bridge of no unit": (_bridge(33, 34, 35, 36), ["join[0].units[3]"]),
    "bridge member twice": (_bridge(33, 34, 35, 33), ["join[0].units[3]"]),
    "bridge without a pontic": (
        demo_case(join=(BRIDGE, SPLINT.model_copy(update={"kind": JoinKind.BRIDGE}))), ["join[1].kind"]
    ),
    "pontic in a splint": (_bridge(33, 34, 35, kind=JoinKind.SPLINT), ["unit[2]"]),
    "tooth in two bridges": (
        demo_case(join=(BRIDGE, SPLINT, Join(id="b2", kind=JoinKind.BRIDGE, units=(34, 35)))),
        ["join[2].units[0]", "join[2].units[1]"],
    ),
    "attachment on nothing": (_attachment(1, tooth=None), ["attachment[1]"]),
    "attachment on two things": (_attachment(1, bar="bar-front"), ["attachment[1]"]),
    "attachment on no unit": (_attachment(1, tooth=36), ["attachment[1].tooth"]),
    "attachment on no bar": (_attachment(2, bar="bar-back"), ["attachment[2].bar"]),
    "clip on a tooth": (_attachment(2, bar=None, tooth=33), ["attachment[2].bar"]),
    "conus on a crown": (_attachment(0, tooth=44), ["attachment[0].kind"]),
    "rigid without a direction": (_attachment(1, withdraw_direction=None), ["attachment[1].withdraw_direction"]),
    "direction too long": (_attachment(1, withdraw_direction=(0.0, 0.0, 1.002)), ["attachment[1].withdraw_direction"]),
    "direction of three digits": (_attachment(1, withdraw_direction=(0.0, 0.0, 1.0009)), []),
    "direction of no length": (_attachment(1, withdraw_direction=(0.0, 0.0, 0.0)), ["attachment[1].withdraw_direction"]),
    "slide without a length": (_attachment(1, length_mm=None), ["attachment[1].length_mm"]),
    "clearance of no kind": (_attachment(1, clearance_is=None), ["attachment[1].clearance_is"]),
    "clearance of no size": (_attachment(1, clearance_um=None), ["attachment[1].clearance_um"]),
    "bar on one tooth": (
        demo_case(bar=(Bar(id="bar-front", from_tooth=33, to_tooth=33, length_mm=17.0, ridge_gap_mm=2.0),)),
        ["bar[0].to_tooth"],
    ),
    "bar on no unit": (
        demo_case(bar=(Bar(id="bar-front", from_tooth=33, to_tooth=41, length_mm=17.0, ridge_gap_mm=2.0),)),
        ["bar[0].to_tooth"],
    ),
    "pick-up of the other arch": (_impressions(pick={"arch": Arch.MAXILLA}), ["impression[0].arch", "scan[1].impression"]),
    "opposing of this arch": (_impressions(opposed={"arch": Arch.MANDIBLE}), ["impression[1].arch"]),
    "pick-up without a route": (_impressions(pick={"route": None}), ["impression[0].route"]),
    "opposing with a route": (_impressions(opposed={"route": PICK.route}), ["impression[1].route"]),
    "opposing that lifts": (_impressions(opposed={"lifts": (37,)}), ["impression[1].lifts"]),
    "unit not lifted": (_impressions(pick={"lifts": PICK.lifts[:-1]}), ["unit[7]"]),
    "pontic not named": (_impressions(pick={"lifts": (37, 35, 33, 42, 43, 44, 45)}), []),
    "pick-up that lifts nothing": (
        _impressions(pick={"lifts": ()}), ["impression[0].lifts", *(f"unit[{i}]" for i in (0, 1, 3, 4, 5, 6, 7))]
    ),
    "lifts no unit of the case": (_impressions(pick={"lifts": (*PICK.lifts, 36)}), ["impression[0].lifts[8]"]),
    "lifts a unit twice": (_impressions(pick={"lifts": (*PICK.lifts, 37)}), ["impression[0].lifts[8]"]),
    "no pick-up planned": (demo_case(impression=(OPPOSED,), scan=(REFERENCE,)), []),
    "window that closes before it opens": (
        _impressions(pick={"maker": MakerWindow(pour_from_min=60, pour_within_min=30)}), ["impression[0].maker.pour_from_min"]
    ),
    "unit lifted by two pick-ups": (_retake(replaces=None, lifts=(37,)), ["unit[0]"]),
    "body lifted by two pick-ups": (
        _impressions(
            pick={"lifts": (37, 35, 34, 33, 42, 44, 45)},
            more=(PICK.model_copy(update={"id": "pickup-2", "lifts": (43,)}),),
        ),
        ["join[1].units"],
    ),
    "retake": (_retake(), []),
    "retake of nothing": (_retake(replaces="pickup-0", lifts=(37,)), ["impression[2].replaces", "unit[0]"]),
    "retake of another role": (
        _impressions(more=(OPPOSED.model_copy(update={"id": "o2", "replaces": PICK_UP}),)),
        ["impression[2].replaces"],
    ),
    "two retakes of one": (
        _impressions(more=tuple(OPPOSED.model_copy(update={"id": n, "replaces": "opposing-1"}) for n in ("o2", "o3"))),
        ["impression[3].replaces"],
    ),
    "die for no unit": (demo_case(returned_die=(demo_returned_die(tooth=36),)), ["returned_die[0].tooth"]),
    "die for a pontic": (demo_case(returned_die=(demo_returned_die(tooth=34),)), ["returned_die[0].tooth"]),
    "die twice": (demo_case(returned_die=(demo_returned_die(),) * 2), ["returned_die[1].id"]),
    "scan of the other arch": (_scans(reference={"arch": Arch.MAXILLA}), ["scan[0].arch"]),
    "poured scan of a mouth": (_scans(poured={"of": ScanOf.MOUTH}), ["scan[1].of"]),
    "poured scan of no impression": (_scans(poured={"impression": None}), ["scan[1].impression"]),
    "poured scan of an unknown impression": (_scans(poured={"impression": "pickup-9"}), ["scan[1].impression"]),
    "poured scan of the opposing impression": (_scans(poured={"impression": "opposing-1"}), ["scan[1].impression"]),
    "two references": (
        _scans(more=(REFERENCE.model_copy(update={"id": "r2"}),)), ["scan[2].role"]
    ),
    "two scans of one name": (_scans(poured={"id": "reference"}), ["scan[1].id"]),
    "opposing scan": (
        _scans(more=(REFERENCE.model_copy(update={"id": "o", "role": ScanRole.OPPOSING, "arch": Arch.MAXILLA}),)), []
    ),
    "no readings by hand": (demo_case(by_hand=HandReadings()), ["by_hand"]),
    "readings outside": (demo_case(by_hand=HandReadings(distances="../a.csv")), ["by_hand.distances"]),
    "repeat of the reference": (_scans(poured={"repeat_of": "reference"}), ["scan[1].repeat_of"]),
    "repeat with other crowns put back": (
        _scans(more=(POURED.model_copy(update={"id": "again", "repeat_of": POURED.id, "reseated": (44,)}),)),
        ["scan[2].repeat_of"],
    ),
    "repeat of a repeat": (
        _scans(
            more=(
                POURED.model_copy(update={"id": "again", "repeat_of": POURED.id}),
                POURED.model_copy(update={"id": "third", "repeat_of": "again"}),
            )
        ),
        ["scan[3].repeat_of"],
    ),
    "repeat scan": (_scans(more=(POURED.model_copy(update={"id": "again", "repeat_of": POURED.id}),)), []),
    "crown put back on the reference": (_scans(reference={"reseated": (44,)}), ["scan[0].reseated"]),
    "crown put back that is none": (_scans(poured={"reseated": (44, 36)}), ["scan[1].reseated[1]"]),
    "reseating without a crown": (_scans(poured={"reseat_um": 20.0}), ["scan[1].reseat_um"]),
    "scan outside": (_scans(reference={"file": "../a.ply"}), ["scan[0].file"]),
    "regions without a reference": (
        demo_case(scan=(), attachment=()), ["region"]
    ),
    "region of a missing tooth": (_region(tooth=36), ["region[0].tooth"]),
    "region of a standing tooth": (_region(tooth=34), []),
    "region far from its margin center": (
        demo_case_with_unit(44, margin_center_mm=(500.0, 0.0, 0.0)),
        [f"region[{[r.tooth for r in demo_case().region].index(44)}].seed_mm"],
    ),
    "margin center of a pontic": (
        demo_case_with_unit(34, margin_center_mm=(0.0, 0.0, 0.0)),
        [f"unit[{[u.tooth for u in demo_units()].index(34)}].margin_center_mm"],
    ),
    "region of the other arch": (_region(tooth=16), ["region[0].tooth"]),
    "region without a radius": (_region(radius_mm=None), ["region[0]"]),
    "region without a seed": (_region(seed_mm=None), ["region[0]"]),
    "region without anything": (_region(radius_mm=None, seed_mm=None), ["region[0]"]),
    "region of two kinds": (_region(mesh="a.stl"), ["region[0]"]),
    "region by mesh": (_region(mesh="a.stl", seed_mm=None, radius_mm=None), []),
    "region by a mesh outside": (_region(mesh="../a.stl", seed_mm=None, radius_mm=None), ["region[0].mesh"]),
}  # fmt: skip


@pytest.mark.parametrize("name", FAULTS)
def test_faults_stand_exactly_where_the_case_is_wrong(name: str) -> None:
    case, places = FAULTS[name]
    faults = validate_case(case)
    assert sorted(f.where for f in faults) == sorted(f"case.toml: {place}" for place in places)
    assert all(f.what and f.hint for f in faults)


def test_direction_of_no_length_is_not_told_to_be_divided_by_it() -> None:
    (none,) = validate_case(FAULTS["direction of no length"][0])
    (long,) = validate_case(FAULTS["direction too long"][0])
    assert "divide" in long.hint
    assert "divide" not in none.hint


def _in_the_other_arch(node: object) -> object:
    if isinstance(node, dict):
        return {key: _in_the_other_arch(inner) for key, inner in node.items()}
    if isinstance(node, list):
        return [_in_the_other_arch(inner) for inner in node]
    if isinstance(node, int) and node in PERMANENT_TEETH:
        return {3: 20, 4: 10}[node // 10] + node % 10
    return {"mandible": "maxilla", "maxilla": "mandible"}.get(node, node) if isinstance(node, str) else node


def test_same_case_in_the_upper_arch_is_as_sound() -> None:
    document = demo_case().model_dump(mode="json", by_alias=True, exclude_none=True)
    upper, faults = parse_case(_in_the_other_arch(document))
    assert faults == ()
    assert upper.arch is Arch.MAXILLA
    assert {u.tooth for u in upper.unit} == {27, 25, 24, 23, 12, 13, 14, 15}
    assert classify_support(upper.teeth, upper.arch).shown() == "Kennedy class II modification 2"
    wrong = upper.model_copy(update={"impression": (upper.impression[0], OPPOSED)})
    assert [f.where for f in validate_case(wrong)] == ["case.toml: impression[1].arch"]


def test_case_without_units_says_so_first() -> None:
    faults = validate_case(demo_case(unit=()))
    assert "case.toml: unit" in {f.where for f in faults}


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("tooth twice in one list", "twice in this list"),
        ("tooth in two lists", "teeth.missing_partial too"),
        ("third molar of the other arch", "not a tooth of the mandible"),
        ("third molar that is not there", "does not stand"),
        ("no third molar", "is no third molar"),
        ("scan outside", "leaves the case folder"),
        ("attachment on nothing", "neither"),
        ("attachment on two things", "both"),
        ("region without a radius", "lacks radius_mm"),
        ("region without a seed", "lacks seed_mm"),
        ("region without anything", "lacks seed_mm and radius_mm"),
    ],
)
def test_fault_says_what_is_wrong(name: str, word: str) -> None:
    faults = validate_case(FAULTS[name][0])
    assert any(word in f.what for f in faults), faults


@pytest.mark.parametrize(
    ("units", "hint"), [((33, 35, 34), "write them in order: [33, 34, 35]"), ((35, 34, 37), "36 lies between")]
)
def test_wrong_order_of_a_bridge_is_told_with_its_remedy(units: tuple[int, ...], hint: str) -> None:
    (fault,) = [f for f in validate_case(_bridge(*units)) if f.where.endswith("join[0].units")]
    assert hint in fault.hint


@pytest.mark.parametrize("role", [ImpressionRole.RELINE, ImpressionRole.OPPOSING])
def test_only_a_pick_up_lifts_units(role: ImpressionRole) -> None:
    arch = Arch.MAXILLA if role is ImpressionRole.OPPOSING else Arch.MANDIBLE
    case = _impressions(opposed={"role": role, "arch": arch, "lifts": (37,)})
    assert [f.where for f in validate_case(case)] == ["case.toml: impression[1].lifts"]


def test_bench_faults_stand_exactly_where_the_bench_is_wrong() -> None:
    bench = demo_bench()
    assert validate_bench(bench) == ()
    nobody = validate_bench(bench.model_copy(update={"person": ()}))
    assert [f.where for f in nobody] == ["bench.toml: person"]
    doubled = bench.model_copy(
        update={"person": (*bench.person, bench.person[0]), "stone": (*bench.stone, bench.stone[1])}
    )
    assert [f.where for f in validate_bench(doubled)] == ["bench.toml: person[4].id", "bench.toml: stone[2].stone"]


@pytest.mark.parametrize(
    "path",
    ["", "/a", "~/a", "../a", "a/../b", "a//b", "./a", "a/", "a\\b", "C:a", "a/ b", "a\0b", "a\nb", "\u202ea", "x" * 300, "a/" * 30 + "b"],
)  # fmt: skip
def test_path_that_may_leave_the_folder_or_hide_is_refused(path: str) -> None:
    assert path_fault(path)


@pytest.mark.parametrize("path", ["a.ply", "scans/a.ply", "Scans/ünterkiefer 2.stl", "..a/b..", ".hidden"])
def test_path_inside_the_folder_passes(path: str) -> None:
    assert path_fault(path) == ""


@pytest.mark.parametrize(
    ("known", "hint"),
    [
        (("pickup-1", "opposing-1"), "did you mean pickup-1?"),
        (("left", "right"), "known: left, right"),
        ((), "the case has no impression: add one, or remove this"),
    ],
)
def test_unknown_name_is_answered_by_the_closest_or_all_known_ones(known: tuple[str, ...], hint: str) -> None:
    assert closest_hint("pickup1", known, noun="impression") == hint
