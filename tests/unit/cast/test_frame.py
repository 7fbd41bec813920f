"""Who holds the frame, and what is told of the others: on poses alone, against closed forms and simulation."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from seatwright.cast._consensus import SCALE_PRIOR
from seatwright.cast._frame import Settled, settle_units
from seatwright.cast._lattice import Pose
from seatwright.quantities import Measured, make_transform

ARCH = np.array([[x, x * x / 19, 0.5 * np.sin(k)] for k, x in enumerate(np.linspace(-27, 27, 10))])
Moves = dict[int, tuple[np.ndarray, np.ndarray]]
LIFT = (np.array([0.0, 0.0, 0.2]), np.zeros(3))


def draw(
    rng: np.random.Generator,
    moves: Moves,
    *,
    scale: float = 0.0,
    centers: np.ndarray = ARCH,
    u_mm: float = 0.003,
    common: tuple[float, ...] = (0.02, -0.01, 0.03, 1e-3, -2e-3, 5e-4),
) -> list[Pose]:
    """Poses seen from a frame that moved by `common`; u of the turn is anisotropic, as for a round crown."""
    covariance = np.diag([u_mm**2] * 3 + [(0.1 * u_mm) ** 2] * 2 + [(0.5 * u_mm) ** 2])
    shift, turn = np.array(common[:3]), np.array(common[3:])
    middle, made = centers.mean(axis=0), []
    for k, c in enumerate(centers):
        own, own_turn = moves.get(k, (np.zeros(3), np.zeros(3)))
        frame = Rotation.from_rotvec(turn)
        at = frame.apply(c + own + scale * (c - middle) - middle) + middle + shift
        together = frame * Rotation.from_rotvec(own_turn)
        motion = np.concatenate([at - c, together.as_rotvec()])
        made.append(Pose(c, motion + rng.multivariate_normal(np.zeros(6), covariance), covariance, c))
    return made


def settle(poses: list[Pose], **changes: object) -> Settled:
    asked = {"groups": (), "told": (), "prior": SCALE_PRIOR, **changes}
    return settle_units(poses, asked["groups"], asked["told"], asked["prior"])  # type: ignore[arg-type]


def z_values(settled: Settled, moves: Moves, scale: float, centers: np.ndarray) -> np.ndarray:
    """Errors over their standard uncertainties, in the raw frame: stable units show scale x (place - middle)."""
    z = []
    for k, unit in enumerate(settled.units):
        own, turn = moves.get(k, (np.zeros(3), np.zeros(3)))
        true = np.concatenate([own + scale * (centers[k] - settled.lattice.middle_mm), turn])
        z.append((unit.raw - true) / np.sqrt(np.diag(unit.raw_covariance)))
    return np.array(z)


@pytest.mark.parametrize("scale", [0.0, 0.001, -0.0025])
def test_raw_shifts_are_covered_whatever_the_scale(scale: float) -> None:
    """A frame fitted without the scale absorbs part of it, another part for each unit left out: coverage fell to .80."""
    rng = np.random.default_rng(4)
    moves: Moves = {2: LIFT, 7: (np.array([0.1, 0.0, 0.0]), np.array([0.0, 0.01, 0.0]))}
    z = np.array([z_values(settle(draw(rng, moves, scale=scale)), moves, scale, ARCH) for _ in range(80)])
    # 4800 values; the coverage of 95 % intervals has a standard error of some .005, clustered by cast
    assert np.mean(np.abs(z) < 1.96) == pytest.approx(0.95, abs=0.02)
    assert np.sqrt((z**2).mean()) == pytest.approx(1.0, abs=0.05)


def test_own_motion_has_the_scale_taken_out() -> None:
    settled = settle(draw(np.random.default_rng(5), {3: LIFT}, scale=0.002, u_mm=1e-5))
    assert settled.lattice.scale.value == pytest.approx(0.002, abs=1e-6)
    for k, unit in enumerate(settled.units):
        assert unit.own[:3] == pytest.approx(LIFT[0] if k == 3 else np.zeros(3), abs=1e-4)
    # and the raw one has it left in: length times scale
    assert np.linalg.norm(settled.units[0].raw[:3]) == pytest.approx(
        0.002 * np.linalg.norm(ARCH[0] - settled.lattice.middle_mm), abs=1e-4
    )


def test_large_common_motion_of_the_scan_changes_nothing() -> None:
    near = settle(draw(np.random.default_rng(6), {3: LIFT}, u_mm=1e-5))
    far = settle(draw(np.random.default_rng(6), {3: LIFT}, u_mm=1e-5, common=(0.5, -0.3, 0.4, 0.02, -0.015, 0.01)))
    for one, two in zip(near.units, far.units, strict=True):
        assert two.raw == pytest.approx(one.raw, abs=5e-5)


def test_two_units_have_only_a_motion_against_each_other() -> None:
    two = ARCH[[0, 9]]
    still = settle(draw(np.random.default_rng(7), {}, centers=two))
    assert still.stable.members == (0, 1)
    assert still.stable.is_unique()
    moved = settle(draw(np.random.default_rng(7), {1: LIFT}, centers=two))
    assert not moved.stable.is_unique()
    assert len(moved.stable.members) == len(moved.stable.rival) == 1
    # seen from the other: 54 mm and .0003 rad make 16 µm beside the 200 that it was lifted
    assert np.linalg.norm(moved.units[1].raw[:3]) == pytest.approx(0.2, abs=0.05)


def test_two_of_three_units_do_not_outvote_the_third() -> None:
    settled = settle(draw(np.random.default_rng(8), {1: LIFT}, centers=ARCH[[0, 4, 9]]))
    assert settled.stable.members == (0, 2)
    assert settled.stable.rival == (1,)
    assert not settled.stable.is_unique()
    assert settle(draw(np.random.default_rng(8), {}, centers=ARCH[[0, 4, 9]])).stable.is_unique()


def test_two_groups_of_equal_size_are_both_told() -> None:
    settled = settle(draw(np.random.default_rng(9), dict.fromkeys((1, 3, 4, 6, 8), LIFT)))
    groups = {settled.stable_units(), settled.rival_members()}
    assert groups == {(0, 2, 5, 7, 9), (1, 3, 4, 6, 8)}
    assert not settled.stable.is_unique()
    assert len(settled.rival_units) == 10
    lifted = [np.linalg.norm(u.raw[:3]) for u in settled.rival_units]
    for k in settled.stable_units():
        assert lifted[k] == pytest.approx(0.2, abs=0.03)


def test_user_may_say_who_is_stable() -> None:
    poses = draw(np.random.default_rng(10), dict.fromkeys((1, 3, 4, 6, 8), LIFT))
    settled = settle(poses, told=(1, 3, 4))
    assert settled.stable_units() == (1, 3, 4)
    assert settled.units[0].raw[2] == pytest.approx(-0.2, abs=0.03)


def test_bridge_is_one_body_with_one_vote() -> None:
    """Three units of a bridge that floats do not outvote two others and each other's partner."""
    moves: Moves = dict.fromkeys((0, 1, 2, 3, 4, 5), LIFT)
    poses = draw(np.random.default_rng(11), moves)
    assert set(settle(poses).stable_units()) == {0, 1, 2, 3, 4, 5}
    settled = settle(poses, groups=[(0, 1, 2), (2, 3), (4, 5)])
    assert [b.units for b in settled.bodies][:2] == [(0, 1, 2, 3), (4, 5)]
    assert set(settled.stable_units()) == {6, 7, 8, 9}
    assert settled.whole[0].raw[2] == pytest.approx(0.2, abs=0.02)
    assert not settled.broken


def test_bridge_does_not_grow_with_the_stone() -> None:
    """A scale moves a splint as a whole: its own length stays."""
    rng = np.random.default_rng(12)
    middle = ARCH.mean(axis=0)
    poses = draw(rng, {}, scale=0.002, u_mm=1e-5, common=(0,) * 6)
    body = ARCH[:3].mean(axis=0)
    for k in range(3):
        p = poses[k]
        poses[k] = Pose(p.center_mm, np.concatenate([0.002 * (body - middle), np.zeros(3)]), p.covariance, p.center_mm)
    settled = settle(poses, groups=[(0, 1, 2)])
    assert set(settled.stable_units()) == set(range(10))
    assert all(np.linalg.norm(u.own[:3]) < 1e-4 for u in settled.units)
    assert settle(poses).stable.members != tuple(range(10))


def test_splint_whose_units_contradict_each_other_is_told_and_split() -> None:
    settled = settle(draw(np.random.default_rng(13), {1: LIFT}), groups=[(0, 1, 2)])
    assert [b.units for b in settled.broken] == [(0, 1, 2)]
    assert settled.broken[0].chance < 1e-6
    assert set(settled.stable_units()) == set(range(10)) - {1}


def test_stable_units_on_one_side_leave_the_other_side_unsure() -> None:
    moves: Moves = {k: (np.array([0.1 * (k - 6), 0.05, 0.1 * k]), np.zeros(3)) for k in (6, 7, 8, 9)}
    settled = settle(draw(np.random.default_rng(14), moves))
    assert settled.stable_units() == (0, 1, 2, 3, 4, 5)
    u = [np.sqrt(np.trace(unit.raw_covariance[:3, :3])) for unit in settled.units]
    assert u[9] > 1.3 * u[2]


def test_die_that_only_turned_is_seen_by_its_turn() -> None:
    settled = settle(draw(np.random.default_rng(15), {4: (np.zeros(3), np.array([0.0, 0.01, 0.0]))}))
    assert set(settled.stable_units()) == set(range(10)) - {4}
    assert np.linalg.norm(settled.units[4].raw[:3]) < 0.012
    assert settled.units[4].raw[4] == pytest.approx(0.01, abs=0.002)


def test_prior_of_the_scale_counts_below_four_bodies_only() -> None:
    tight = Measured(0.0, 1e-5, "1")
    four = settle(draw(np.random.default_rng(16), {}, scale=0.002, centers=ARCH[[0, 3, 6, 9]]), prior=tight)
    assert four.lattice.scale.value == pytest.approx(0.002, abs=3e-4)
    three = settle(draw(np.random.default_rng(16), {}, scale=0.0002, centers=ARCH[[0, 4, 9]]), prior=tight)
    assert three.lattice.scale.value == pytest.approx(0.0, abs=3e-5)
    # in conflict with it the three do not agree any more: nobody is said to have moved
    torn = settle(draw(np.random.default_rng(16), {}, scale=0.004, centers=ARCH[[0, 4, 9]], u_mm=5e-4), prior=tight)
    assert not torn.stable.is_unique()


def test_uneven_change_is_not_called_a_scale() -> None:
    rng = np.random.default_rng(17)
    even = [settle(draw(rng, {}, scale=0.001)).uniform_chance for _ in range(60)]
    assert 0.3 < float(np.mean(even)) < 0.7  # type: ignore[arg-type]
    poses = draw(rng, {}, common=(0,) * 6)
    across = [
        Pose(p.center_mm, p.motion + np.r_[2.5e-4 * p.center_mm[0], 0, 0, 0, 0, 0], p.covariance, p.center_mm)
        for p in poses
    ]
    settled = settle(across)
    assert settled.uniform_chance is not None
    assert settled.uniform_chance < 0.01


def test_swapped_roles_invert_the_motion_and_carry_its_covariance() -> None:
    """Sigma becomes Ad Sigma Ad' under the inverse: told about the moved center, the turn mixes nothing in."""
    poses = draw(np.random.default_rng(18), {4: (np.array([0.1, -0.05, 0.2]), np.array([0.0, 0.01, 0.004]))})
    forth = settle(poses)
    swapped = []
    for p in poses:
        turn = Rotation.from_rotvec(p.motion[3:])
        there = np.zeros((6, 6))
        there[:3, :3] = there[3:, 3:] = turn.inv().as_matrix()
        # the same body's inverse motion about the place to which its center went
        center = p.center_mm + p.motion[:3]
        swapped.append(Pose(center, np.r_[-p.motion[:3], -p.motion[3:]], there @ p.covariance @ there.T, center))
    back = settle(swapped)
    assert back.stable_units() == forth.stable_units()
    assert back.lattice.scale.value == pytest.approx(-forth.lattice.scale.value, abs=1e-6)
    T = make_transform(forth.lattice.motion[3:6], np.zeros(3))[:3, :3] @ forth.T_global_frame[:3, :3]
    for one, two in zip(forth.units, back.units, strict=True):
        # the swapped check tells its vectors in the other scan's frame
        assert T.T @ two.raw[:3] == pytest.approx(-one.raw[:3], abs=2e-3)
        assert np.sort(np.linalg.eigvalsh(two.raw_covariance)) == pytest.approx(
            np.sort(np.linalg.eigvalsh(one.raw_covariance)), rel=0.02
        )
