"""Rests, clasps and guide planes: what contradicts itself is named with its place."""

import pytest
from tests.examples import demo_case

from seatwright.case import (
    Case,
    Clasp,
    ClaspAlloy,
    ClaspApproach,
    ClaspForm,
    GuidePlane,
    ReliefArea,
    Rest,
    RestKind,
    Surface,
    parse_case,
    validate_case,
)

REST = Rest(id="rest-44", tooth=44, kind=RestKind.OCCLUSAL, surface=Surface.MESIAL, at_mm=(-15.4, 9.7, -2.0))
CLASP = Clasp(
    id="clasp-35",
    tooth=35,
    surface=Surface.FACIAL,
    approach=ClaspApproach.SUPRABULGE,
    form=ClaspForm.CAST,
    alloy=ClaspAlloy.COBALT_CHROMIUM,
    tip_mm=(23.3, 13.7, -6.2),
)
PLANE = GuidePlane(id="plane-33", tooth=33, surface=Surface.MESIAL, at_mm=(9.8, 3.5, -3.8), height_mm=2.5)


def _with(*, rest: dict | None = None, clasp: dict | None = None, plane: dict | None = None) -> Case:
    return demo_case(
        rest=(REST.model_copy(update=rest or {}),),
        clasp=(CLASP.model_copy(update=clasp or {}),),
        guide_plane=(PLANE.model_copy(update=plane or {}),),
    )


def _places(case: Case) -> list[str]:
    return [fault.where.removeprefix("case.toml: ") for fault in validate_case(case)]


def test_a_sound_partial_has_no_fault():
    assert _places(_with()) == []


@pytest.mark.parametrize(
    ("changed", "place"),
    [
        ({"rest": {"tooth": 16}}, "rest[0].tooth"),
        ({"rest": {"tooth": 46}}, "rest[0].tooth"),  # replaced by the partial itself
        ({"clasp": {"tooth": 31}}, "clasp[0].tooth"),
        ({"plane": {"tooth": 38}}, "guide_plane[0].tooth"),  # missing, not replaced
        ({"rest": {"at_mm": None}}, "rest[0].at_mm"),
        ({"clasp": {"tip_mm": None}}, "clasp[0].tip_mm"),
        ({"plane": {"at_mm": None}}, "guide_plane[0].at_mm"),
        ({"rest": {"tooth": 33}}, "rest[0].kind"),  # a canine has no occlusal surface
        ({"rest": {"kind": RestKind.CINGULUM}}, "rest[0].kind"),
        ({"rest": {"surface": Surface.LINGUAL}}, "rest[0].surface"),
        ({"clasp": {"alloy": ClaspAlloy.STAINLESS_STEEL}}, "clasp[0].form"),
        ({"plane": {"outward": (0.0, 0.0, 0.0)}}, "guide_plane[0].outward"),
        ({"plane": {"outward": (0.0, 2.0, 0.0)}}, "guide_plane[0].outward"),
    ],
)
def test_a_contradiction_names_its_place(changed: dict, place: str):
    assert _places(_with(**changed)) == [place]


def test_a_name_used_twice_is_a_fault():
    assert [p.split(".")[0] for p in _places(demo_case(rest=(REST, REST)))] == ["rest[1]"]


def test_places_are_not_asked_for_without_a_reference_scan():
    case = demo_case(rest=(REST.model_copy(update={"at_mm": None}),), scan=(), region=())
    assert "rest[0].at_mm" not in _places(case)


def test_a_clasp_that_cannot_be_read_names_field_and_remedy():
    document = _with().model_dump(mode="json", by_alias=True, exclude_none=True)
    document["clasp"][0]["alloy"] = "tin"
    _, faults = parse_case(document)
    (fault,) = faults
    assert fault.where.endswith("clasp[0].alloy")
    assert "cobalt_chromium" in f"{fault.what} {fault.hint}"


def test_relief_needs_a_reference_scan_and_a_name_of_its_own():
    pad = ReliefArea(id="ridge", gauge=24, reach_mm=3.0, line_mm=((0.0, 0.0, 0.0),))
    assert not [place for place in _places(demo_case(relief=(pad,))) if place.startswith("relief")]
    assert "relief[1].id" in _places(demo_case(relief=(pad, pad)))
    assert "relief" in _places(demo_case(relief=(pad,), scan=()))
