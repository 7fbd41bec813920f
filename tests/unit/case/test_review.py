"""What is legal but unlikely is found, and the sound example raises nothing."""

import pytest
from tests.examples import (
    BUTT,
    COLLAR,
    KNIFE_EDGE,
    ZIRCONIA_EDGE,
    all_round,
    demo_case,
    demo_case_with_unit,
    demo_impressions,
    margin,
    twin_axes_case,
)

from seatwright.case import Body, Case, MarginKind, Tray, Veneer, review_case, validate_case

PICK, OPPOSED = demo_impressions()


def test_sound_example_raises_no_question() -> None:
    assert review_case(demo_case()) == ()
    assert review_case(twin_axes_case()) == ()


def test_opposing_impression_in_any_tray_and_a_case_not_yet_poured_raise_no_question() -> None:
    loose = OPPOSED.model_copy(update={"adhesive": False, "tray": Tray.FLEXIBLE_STOCK})
    assert review_case(demo_case(impression=(PICK, loose))) == ()
    assert review_case(demo_case(region=(), scan=demo_case().scan[:1])) == ()


CASES: dict[str, tuple[Case, str, str]] = {
    "steep conus": (demo_case_with_unit(37, wall_taper_deg=12.0), "review-wall-taper", "37"),
    "thin collar": (
        demo_case_with_unit(35, margin=all_round(COLLAR, mesial=margin(MarginKind.METAL_COLLAR, 0.2))), "review-thin-collar", "35"
    ),
    "thick knife edge": (
        demo_case_with_unit(35, margin=all_round(COLLAR, mesial=margin(MarginKind.METAL_KNIFE_EDGE, 0.3))), "review-thick-knife-edge", "35"
    ),
    "metal edge on zirconia": (demo_case_with_unit(44, margin=all_round(ZIRCONIA_EDGE, facial=KNIFE_EDGE)), "review-edge-material", "44"),
    "zirconia edge on metal": (demo_case_with_unit(44, body=Body.BASE_METAL_ALLOY), "review-edge-material", "44"),
    "butt without a veneer": (demo_case_with_unit(43, veneer=Veneer.NONE, margin=all_round(COLLAR, facial=BUTT)), "review-edge-veneer", "43"),
    "no adhesive": (demo_case(impression=(PICK.model_copy(update={"adhesive": False}), OPPOSED)), "review-no-adhesive", "pickup-1"),
    "flexible tray": (demo_case(impression=(PICK.model_copy(update={"tray": Tray.FLEXIBLE_STOCK}), OPPOSED)), "review-flexible-tray", "pickup-1"),
    "unit of no place": (demo_case(region=demo_case().region[1:]), "review-no-region", "37"),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_unlikely_case_is_legal_but_asked_about(name: str) -> None:
    case, identifier, about = CASES[name]
    assert validate_case(case) == ()
    findings = review_case(case)
    assert {(f.id, f.about) for f in findings} == {(identifier, about)}
    assert all(f.what and f.why and f.do for f in findings)
