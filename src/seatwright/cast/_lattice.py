"""Frame and scale that some bodies hold together: crowns stay rigid, the lattice on which they stand may scale.

Every body's own pose is a measurement with a covariance; the common motion (shift, turn, scale) is their generalized
least squares. Works on poses alone; knows nothing of surfaces.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy import stats
from scipy.linalg import block_diag, solve_triangular

from seatwright.quantities import FloatArray, Measured, Transform, invert_transform, make_transform, rotation_vector_rad

__all__ = [
    "FREE_FROM",
    "LatticeFit",
    "Pose",
    "Relative",
    "combine_poses",
    "design_of",
    "fit_lattice",
    "frame_transform",
    "invert_information",
    "judge_uniform_scale",
    "prior_in_force",
    "relate",
    "reseat_covariance",
    "seen_from",
]

FREE_FROM = 4  # definition: four centroids leave something to contradict a scale; three always fit one
# judgement: a scale from four bodies on is free; this only steadies lattices that do not show one
_FREE = Measured(0.0, 0.03, "1")
# judgement: half a crown's width; opposite edges come to rest independently, so the turn is the shift over it
_HALF_CROWN_MM = 4.0
_LEAST_STRENGTH = 1e-6  # definition: below this share of the strongest a parameter is not shown


@dataclass(frozen=True, slots=True, eq=False)
class Pose:
    """Pose of a unit or of a body: shift at its centroid and turn, with covariance (mm, rad).

    `anchor_mm` is where the lattice's scale carries it: the centroid of the rigid body that it belongs to, since a
    splint does not grow with the stone. `reseat_mm` is how much of the shift's standard uncertainty, per axis, comes
    from putting the crown back: the units of one rigid body share it. `shared` (6, k) is what k independent standard
    normal causes that are common to all poses make of the motion; `covariance` is without it.
    """

    center_mm: FloatArray
    motion: FloatArray
    """(6,): shift mm, rotation vector rad."""
    covariance: FloatArray
    anchor_mm: FloatArray
    reseat_mm: float = 0.0
    shared: FloatArray = field(default_factory=lambda: np.zeros((6, 0)))


@dataclass(frozen=True, slots=True, eq=False)
class LatticeFit:
    """Common motion of some bodies about `middle_mm`, their lattice's scale, and the joint covariance.

    `shared` (7, k) is what the causes that all poses share make of it; `covariance` is without it.
    """

    motion: FloatArray
    """(7,): shift mm, turn rad, scale."""
    covariance: FloatArray
    """(7, 7)."""
    middle_mm: FloatArray
    shared: FloatArray = field(default_factory=lambda: np.zeros((7, 0)))

    @property
    def scale(self) -> Measured:
        """How much larger (+) the lattice is, as a fraction."""
        u = float(np.sqrt(self.covariance[6, 6] + (self.shared[6] ** 2).sum()))
        return Measured(float(self.motion[6]), u, "1")


@dataclass(frozen=True, slots=True, eq=False)
class Relative:
    """Motion of one unit relative to a lattice that does not contain it."""

    raw: FloatArray
    """(6,): with the scale left in, as a rigid framework feels it."""
    raw_covariance: FloatArray
    own: FloatArray
    """(6,): with the scale taken out: what the unit did by itself."""
    own_covariance: FloatArray
    raw_shared: FloatArray = field(default_factory=lambda: np.zeros((6, 0)))
    """(6, k): what the causes that all poses share make of the raw motion; part of its covariance."""


def design_of(center_mm: FloatArray, anchor_mm: FloatArray, middle_mm: FloatArray) -> FloatArray:
    """Rows of (shift, turn) at a unit for (shift, turn, scale) of the lattice about its middle; shape (6, 7)."""
    x, y, z = center_mm - middle_mm
    design = np.zeros((6, 7))
    design[:3, :3] = np.eye(3)
    design[:3, 3:6] = np.array([[0, z, -y], [-z, 0, x], [y, -x, 0]])
    design[3:, 3:6] = np.eye(3)
    design[:3, 6] = anchor_mm - middle_mm
    return design


def invert_information(matrix: FloatArray) -> FloatArray:
    """Invert information whose shifts (mm), turns (rad) and scale differ by orders; one matrix or a stack."""
    balance = 1 / np.sqrt(np.einsum("...ii->...i", matrix))
    scale = balance[..., :, None] * balance[..., None, :]
    return np.asarray(np.linalg.inv(matrix * scale) * scale)


def prior_in_force(n_bodies: int, prior: Measured) -> Measured:
    """Return the prior of the scale that takes part in a fit of so many bodies."""
    return _FREE if n_bodies >= FREE_FROM else prior


def fit_lattice(poses: Sequence[Pose], middle_mm: FloatArray, prior: Measured) -> LatticeFit:
    """Weighted least squares for the common motion and scale; `prior` counts below four bodies only.

    Each pose weighs by its own covariance; causes that the poses share are carried through the fit as they are.
    """
    prior = prior_in_force(len(poses), prior)
    matrix, right = np.zeros((7, 7)), np.zeros(7)
    shared = np.zeros((7, poses[0].shared.shape[1]))
    matrix[6, 6], right[6] = 1 / prior.u**2, prior.value / prior.u**2
    designs = [design_of(p.center_mm, p.anchor_mm, middle_mm) for p in poses]
    weights = [np.linalg.inv(p.covariance) for p in poses]
    for design, weight, pose in zip(designs, weights, poses, strict=True):
        matrix += design.T @ weight @ design
        right += design.T @ weight @ pose.motion
        shared += design.T @ weight @ pose.shared
    covariance = invert_information(matrix)
    solution = covariance @ right
    return LatticeFit(solution, covariance, np.asarray(middle_mm), covariance @ shared)


def relate(pose: Pose, lattice: LatticeFit) -> Relative:
    """Return a unit's motion relative to a lattice without it, carrying the lattice's covariance to it by leverage."""
    design = design_of(pose.center_mm, pose.anchor_mm, lattice.middle_mm)
    rigid = design.copy()
    rigid[:, 6] = 0.0
    raw_shared, own_shared = pose.shared - rigid @ lattice.shared, pose.shared - design @ lattice.shared
    raw = pose.covariance + rigid @ lattice.covariance @ rigid.T + raw_shared @ raw_shared.T
    own = pose.covariance + design @ lattice.covariance @ design.T + own_shared @ own_shared.T
    return Relative(
        pose.motion - rigid @ lattice.motion,
        (raw + raw.T) / 2,
        pose.motion - design @ lattice.motion,
        (own + own.T) / 2,
        raw_shared,
    )


def reseat_covariance(u_mm: float, half_width_mm: float = _HALF_CROWN_MM) -> FloatArray:
    """Covariance (6, 6) of a reseated body: its shift per axis, and the turn that such errors at both edges make."""
    return np.diag([u_mm**2] * 3 + [(u_mm / half_width_mm) ** 2] * 3)


def combine_poses(poses: Sequence[Pose]) -> tuple[Pose, float]:
    """Return the pose of the one rigid body that some units make, about their mean place, and what they contradict.

    The second value is the weighted sum of squares left over: chi-square with 6 (k - 1) degrees of freedom when the k
    units are one rigid body. A reseating that they share cannot set them at odds: it is added to the body once.
    """
    middle = np.asarray(np.mean([p.center_mm for p in poses], axis=0))
    if len(poses) == 1:
        return poses[0], 0.0
    matrix, right = np.zeros((6, 6)), np.zeros(6)
    shared = np.zeros((6, poses[0].shared.shape[1]))
    designs = [design_of(p.center_mm, p.center_mm, middle)[:, :6] for p in poses]
    weights = [np.linalg.inv(p.covariance - reseat_covariance(p.reseat_mm)) for p in poses]
    for design, weight, pose in zip(designs, weights, poses, strict=True):
        matrix += design.T @ weight @ design
        right += design.T @ weight @ pose.motion
        shared += design.T @ weight @ pose.shared
    covariance = invert_information(matrix)
    motion = covariance @ right
    own = [p.covariance - reseat_covariance(p.reseat_mm) for p in poses]
    chi2, _ = left_over(np.vstack(designs), poses, own)
    reseat = max(p.reseat_mm for p in poses)
    half = max(_HALF_CROWN_MM, *(float(np.linalg.norm(p.center_mm - middle)) for p in poses))
    return Pose(middle, motion, covariance + reseat_covariance(reseat, half), middle, reseat, covariance @ shared), chi2


def left_over(design: FloatArray, poses: Sequence[Pose], covariances: Sequence[FloatArray]) -> tuple[float, int]:
    """Weighted sum of squares that a linear model leaves of some poses, the causes that they share weighed in.

    `design` has six rows for each pose; `covariances` are those of the poses by themselves. The second value is the
    number of parameters that the poses show.
    """
    joint = np.vstack([p.shared for p in poses])
    root = np.linalg.cholesky(np.asarray(block_diag(*covariances)) + joint @ joint.T)
    whitened = solve_triangular(root, design, lower=True)
    right = solve_triangular(root, np.concatenate([p.motion for p in poses]), lower=True)
    sizes = np.linalg.norm(whitened, axis=0)
    basis, strengths, _ = np.linalg.svd(whitened[:, sizes > 0] / sizes[sizes > 0], full_matrices=False)
    basis = basis[:, strengths > _LEAST_STRENGTH * strengths[0]]
    return float(((right - basis @ (basis.T @ right)) ** 2).sum()), basis.shape[1]


def frame_transform(lattice: LatticeFit) -> Transform:
    """Return the lattice's rigid motion (scale left out) as a 4x4 transform."""
    transform = make_transform(lattice.motion[3:6], np.zeros(3))
    transform[:3, 3] = lattice.middle_mm + lattice.motion[:3] - transform[:3, :3] @ lattice.middle_mm
    return transform


def seen_from(pose: Pose, frame: Transform) -> Pose:
    """Return the same pose seen from a frame that moved by `frame`; exact, so that what remains is small."""
    back = invert_transform(frame)
    turned = np.zeros((6, 6))
    turned[:3, :3] = turned[3:, 3:] = back[:3, :3]
    moved = back[:3, :3] @ (pose.center_mm + pose.motion[:3]) + back[:3, 3] - pose.center_mm
    turn = back @ make_transform(pose.motion[3:], np.zeros(3))
    motion = np.concatenate([moved, rotation_vector_rad(turn)])
    return replace(pose, motion=motion, covariance=turned @ pose.covariance @ turned.T, shared=turned @ pose.shared)


def judge_uniform_scale(poses: Sequence[Pose], lattice: LatticeFit) -> float | None:
    """Return the probability of a lattice change as uneven as this one when it is a uniform scale.

    The scale is compared with a linear change that may differ in every direction (six strains); strains that the
    bodies do not show are left out. None with fewer than four bodies, or when nothing is left to compare.

    References
    ----------
    .. [1] Rao, Linear Statistical Inference and Its Applications, 2nd ed. (1973), section 4b (test of a linear
       hypothesis with known covariance: the difference of the residual sums is chi-square).
    """
    if len(poses) < FREE_FROM:
        return None
    uniform, full = [], []
    for pose in poses:
        x, y, z = pose.anchor_mm - lattice.middle_mm
        strains = np.zeros((6, 6))
        strains[:3] = [[x, 0, 0, y, z, 0], [0, y, 0, x, 0, z], [0, 0, z, 0, x, y]]
        rigid = design_of(pose.center_mm, pose.anchor_mm, lattice.middle_mm)
        uniform.append(rigid)
        full.append(np.hstack([rigid[:, :6], strains]))
    covariances = [p.covariance for p in poses]
    alike, _ = left_over(np.vstack(uniform), poses, covariances)
    left, rank = left_over(np.vstack(full), poses, covariances)
    freedom = rank - 7
    return float(stats.chi2.sf(max(alike - left, 0.0), freedom)) if freedom >= 1 else None
