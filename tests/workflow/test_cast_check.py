"""What a case hands to its cast check: rigid bodies, and the points at which units are judged."""

from tests.examples import demo_case

from seatwright.case import Rest, RestKind, Surface
from seatwright.cast import MARGIN_CENTER, PointKind
from seatwright.workflows.cast_check import functional_marks, rigid_bodies


def test_bar_between_crowns_makes_one_rigid_body() -> None:
    case = demo_case()
    assert case.bar[0].from_tooth == 33
    assert rigid_bodies(case) == (("33", "34", "35", "42", "43"),)
    without = case.model_copy(update={"bar": ()})
    assert rigid_bodies(without) == (("33", "34", "35"), ("42", "43"))


def test_points_come_attachments_first_then_rests_then_margins() -> None:
    case = demo_case()
    rest = Rest(id="r-44", tooth=44, kind=RestKind.OCCLUSAL, surface=Surface.MESIAL, at_mm=(1.0, 2.0, 3.0))
    units = tuple(
        u.model_copy(update={"margin_center_mm": (0.0, 0.0, -4.0)}) if u.tooth in (33, 44) else u for u in case.unit
    )
    attachments = tuple(a.model_copy(update={"at_mm": (5.0, 5.0, 5.0)}) for a in case.attachment)
    marks = functional_marks(case.model_copy(update={"rest": (rest,), "unit": units, "attachment": attachments}))
    on_44 = [(m.name, m.kind) for m in marks if m.tooth == "44"]
    assert on_44[-2:] == [("r-44", PointKind.REST), (MARGIN_CENTER, PointKind.MARGIN)]
    assert all(kind is PointKind.ATTACHMENT for _, kind in on_44[:-2])
    # an attachment on a bar is a point of both of its ends
    on_bar = next(a for a in case.attachment if a.bar is not None)
    assert {m.tooth for m in marks if m.name == on_bar.id} == {"33", "42"}


def test_place_that_the_case_leaves_open_is_no_point() -> None:
    case = demo_case()
    bare = case.model_copy(
        update={"rest": (), "attachment": tuple(a.model_copy(update={"at_mm": None}) for a in case.attachment)}
    )
    assert functional_marks(bare) == ()
