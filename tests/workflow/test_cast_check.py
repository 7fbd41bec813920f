"""What a case hands to its cast check: rigid bodies, and the points at which units are judged."""

import math
from types import SimpleNamespace

import numpy as np
import pytest
from tests.examples import demo_case
from tests.rescans import scan_again

from seatwright.case import Case, ImpressionMaterial, ImpressionRole, Rest, RestKind, Scan, Stone
from seatwright.case import Surface as Side
from seatwright.cast import MARGIN_CENTER, PointKind
from seatwright.demo import make_demo_case
from seatwright.evidence import find_evidence
from seatwright.forecast import Choices, PourBand
from seatwright.mesh import Surface
from seatwright.quantities import Measured
from seatwright.workflows.cast_check import (
    check_case_casts,
    expected_scale,
    functional_marks,
    group_repeats,
    rigid_bodies,
)
from seatwright.workflows.ports import InputFile


def test_bar_between_crowns_makes_one_rigid_body() -> None:
    case = demo_case()
    assert case.bar[0].from_tooth == 33
    assert rigid_bodies(case) == (("33", "34", "35", "42", "43"),)
    without = case.model_copy(update={"bar": ()})
    assert rigid_bodies(without) == (("33", "34", "35"), ("42", "43"))


def test_points_come_attachments_first_then_rests_then_margins() -> None:
    case = demo_case()
    rest = Rest(id="r-44", tooth=44, kind=RestKind.OCCLUSAL, surface=Side.MESIAL, at_mm=(1.0, 2.0, 3.0))
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


def test_repeat_scans_count_with_the_scan_that_they_repeat() -> None:
    case = demo_case()
    poured = next(s for s in case.scan if s.impression is not None)
    again, other = poured.model_copy(update={"id": "b", "repeat_of": poured.id}), poured.model_copy(update={"id": "c"})
    assert [[s.id for s in group] for group in group_repeats((poured, other, again))] == [[poured.id, "b"], ["c"]]


def test_expected_scale_is_the_sum_of_the_evidence_of_impression_and_stone() -> None:
    """By hand from the records: whole casts of an elastomer, Type 4 stone included; alginate and Type 3 one by one."""
    case = demo_case()
    poured = next(s for s in case.scan if s.impression is not None)
    impression = case.impression_by_id(poured.impression or "")
    whole = find_evidence("fc_cast_scale_elastomer")
    found = expected_scale(case, poured)
    assert found is not None
    late = find_evidence("fc_stone_late") if impression.pour.used_after_h > 72 else None
    assert found.value.value == pytest.approx((whole.require_value() + (late.require_value() if late else 0)) / 100)
    alginate = impression.model_copy(
        update={
            "material": ImpressionMaterial.ALGINATE,
            "pour": impression.pour.model_copy(update={"stone": Stone.TYPE_3, "used_after_h": 24.0}),
        }
    )
    others = tuple(alginate if i.id == impression.id else i for i in case.impression)
    found = expected_scale(case.model_copy(update={"impression": others}), poured)
    records = [find_evidence("fc_scale_alginate_fresh"), find_evidence("fc_stone_type_3")]
    assert found is not None
    assert found.value.value == pytest.approx(sum(r.require_value() for r in records) / 100)
    assert found.value.u == pytest.approx(math.hypot(*(r.sd or 0.0 for r in records)) / 100)
    assert expected_scale(case, poured.model_copy(update={"impression": None})) is None


def test_band_of_the_pour_holds_for_the_pick_up_alone() -> None:
    case = demo_case()
    poured = next(s for s in case.scan if s.impression is not None)
    impression = case.impression_by_id(poured.impression or "")
    late = Choices(pour=PourBand("later than 1 h", Measured(-0.6, 0.4, "%"), evidence=("alg_todd_all",)))
    stone = find_evidence("fc_stone_type_4").require_value()

    def expect(role: ImpressionRole) -> float:
        alginate = impression.model_copy(
            update={
                "role": role,
                "material": ImpressionMaterial.ALGINATE,
                "pour": impression.pour.model_copy(update={"stone": Stone.TYPE_4, "used_after_h": 24.0}),
            }
        )
        others = tuple(alginate if i.id == impression.id else i for i in case.impression)
        found = expected_scale(case.model_copy(update={"impression": others}), poured, late)
        assert found is not None
        return 100 * found.value.value

    fresh = find_evidence("fc_scale_alginate_fresh").require_value()
    assert expect(ImpressionRole.PICK_UP) == pytest.approx(-0.6 + stone)
    assert expect(ImpressionRole.OPPOSING) == pytest.approx(fresh + stone)


class _Scans:
    """A case source that hands out surfaces by file name."""

    def __init__(self, surfaces: dict[str, Surface]) -> None:
        self.surfaces = surfaces

    def surface(self, scan: Scan) -> tuple[Surface, InputFile]:
        return self.surfaces[scan.file], InputFile(scan.file, "0" * 64, 1)


def test_repeat_scans_of_a_case_are_one_check_with_their_own_repeatability() -> None:
    made = make_demo_case(grid_mm=0.6)
    surfaces = {name: scan.surface() for name, scan in made.scans.items()}
    first = next(s for s in made.case.scan if s.impression is not None)
    rng = np.random.default_rng(4)
    surfaces["scans/again.ply"] = scan_again(surfaces[first.file], rng, noise_mm=0.004)
    again = first.model_copy(update={"id": "again", "file": "scans/again.ply", "repeat_of": first.id})
    case = made.case.model_copy(update={"scan": (*made.case.scan, again)})
    steps, files = check_case_casts(_Scans(surfaces), _bundle(case))  # type: ignore[arg-type]
    [step] = steps
    assert step.result.repeats is not None
    assert step.result.repeats.n_scans == 2
    assert step.result.repeatability_um == step.result.repeats.shift_um.value
    assert "scans/again.ply" in {f.name for f in files}
    assert any(f.id == "cast-repeatability" for f in step.result.findings)
    assert {u.tooth for u in step.result.units if u.is_moved} == {str(t) for t in made.truth.floated}
    assert step.result.scale_report is not None
    assert step.result.scale_report.expected is not None


def _bundle(case: Case) -> SimpleNamespace:
    return SimpleNamespace(case=case)
