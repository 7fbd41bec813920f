"""Crowns that were off and put back: size of the component, bodies, budget. Against closed forms and drawn shifts."""

from types import ModuleType

import numpy as np
import pytest

from seatwright.arch import SeedRegion, assign_regions
from seatwright.cast import CastQuestion, check_cast, expect_reseat_um
from seatwright.cast._lattice import Pose, combine_poses, reseat_covariance
from seatwright.cast._reseat import add_reseats
from seatwright.errors import ValueOutOfRange
from seatwright.evidence import find_evidence
from seatwright.mesh import Surface


def test_component_is_the_spread_of_a_shift_of_even_length_and_any_direction() -> None:
    record = find_evidence("crown_reseat")
    assert (record.low, record.high, record.unit) == (10.0, 50.0, "µm")
    rng = np.random.default_rng(1)
    direction = rng.normal(size=(400_000, 3))
    direction /= np.linalg.norm(direction, axis=1)[:, None]
    drawn = direction * rng.uniform(10, 50, 400_000)[:, None]
    # 1.2 million values: the spread is known to 0.1 %
    assert expect_reseat_um() == pytest.approx(float(np.sqrt((drawn**2).mean())), rel=0.003)
    with pytest.raises(ValueOutOfRange):
        expect_reseat_um(50.0, 10.0)


def test_units_of_one_body_come_off_and_back_together() -> None:
    """Closed form: three units with u of the scan each, one reseating: u² / 3 + u_reseat², and no contradiction."""
    u, reseat = 0.003, 0.02
    scan = np.diag([u**2] * 3 + [(u / 3) ** 2] * 3)
    units = [Pose(np.array([x, 0.0, 0.0]), np.zeros(6), scan, np.array([x, 0.0, 0.0])) for x in (-8.0, 0.0, 8.0)]
    alone = add_reseats(units, ("33", "34", "35"), (), {"34": 1e3 * reseat})
    assert [p.reseat_mm for p in alone] == [0.0, reseat, 0.0]
    added = add_reseats(units, ("33", "34", "35"), (("33", "34", "35"),), {"34": 1e3 * reseat})
    assert [p.reseat_mm for p in added] == [reseat] * 3
    body, _ = combine_poses(added)
    assert np.diag(body.covariance)[:3] == pytest.approx(u**2 / 3 + reseat**2, rel=1e-9)
    assert body.reseat_mm == reseat
    # what the splint's own stiffness forbids stays forbidden: its units are compared without the reseating
    bent = list(added)
    bent[1] = Pose(
        added[1].center_mm, np.array([0, 0, 0.03, 0, 0, 0.0]), added[1].covariance, added[1].anchor_mm, reseat
    )
    assert combine_poses(bent)[1] == pytest.approx(combine_poses(_without(bent))[1])
    assert combine_poses(bent)[1] > 50


def _without(poses: list[Pose]) -> list[Pose]:
    return [Pose(p.center_mm, p.motion, p.covariance - reseat_covariance(p.reseat_mm), p.anchor_mm) for p in poses]


def test_reseated_unit_is_told_wider_with_its_budget_and_less_surely(arches: ModuleType) -> None:
    scene = arches.draw_scene(21, n_u=300, n_v=80, n_moved=2, noise=0.004)
    names = ("17", "16", "15", "14", "13", "12", "11", "21", "22", "23", "24", "25", "26", "27")
    reference, poured = Surface(*scene.reference), Surface(*scene.poured)
    regions = assign_regions(reference, [SeedRegion(t, s, 3.5) for t, s in zip(names, scene.seeds, strict=True)])
    still = next(t for k, t in enumerate(names) if k not in scene.arch.motions)
    asked = CastQuestion(reseats_um={still: 18.6})
    plain = check_cast(reference, poured, regions, tolerance_um=50, repeatability_um=4)
    wider = check_cast(reference, poured, regions, tolerance_um=50, repeatability_um=4, question=asked)
    before, after = (next(u for u in r.units if u.tooth == still) for r in (plain, wider))
    assert after.u_shift_mm == pytest.approx(np.hypot(before.u_shift_mm, 0.0186), rel=0.01)
    assert after.points[0].p_conforms < before.points[0].p_conforms
    assert {line.cause for line in before.budget} == {"scan error", "repeatability", "frame"}
    reseat = next(line for line in after.budget if line.cause == "crown put back")
    assert reseat.u_um == pytest.approx(18.6)
    for unit in wider.units:
        # JCGM 100, 5.1.2: independent causes add by their squares
        total = sum(line.u_um**2 for line in unit.budget)
        assert total == pytest.approx(unit.points[0].u_worst_um ** 2, rel=1e-6)
    others = [u for u in wider.units if u.tooth != still]
    assert not any(line.cause == "crown put back" for u in others for line in u.budget)
