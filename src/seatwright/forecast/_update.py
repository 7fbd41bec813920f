"""What a cast check teaches: the joint law of the cast's errors, conditioned on the measured places of its units.

A measurement does not replace a link: it sees the sum of several, up to one common rigid motion. Owns the conditioning.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy import stats

from seatwright.errors import ValueOutOfRange
from seatwright.forecast._chain import Cause, Chain
from seatwright.forecast._vectors import cross, skew
from seatwright.quantities import FloatArray, Normal

__all__ = ["SURPRISING", "MeasuredUnit", "condition_linear", "condition_on_units", "find_surprises"]

_FREE = 1e3  # judgement: spread of the unknown common motion (mm, rad), a thousand times any real one


@dataclass(frozen=True, slots=True)
class MeasuredUnit:
    """One unit of a cast check: where it stands against where it belongs.

    Attributes
    ----------
    tooth : int
    shift_mm, turn_rad : ndarray of shape (3,)
        Shift of the point `about_mm` and turn, in the reference frame.
    cov : ndarray of shape (6, 6)
        Covariance of (shift, turn).
    about_mm : ndarray of shape (3,)
    """

    tooth: int
    shift_mm: FloatArray
    turn_rad: FloatArray
    cov: FloatArray
    about_mm: FloatArray


def condition_linear(
    mean: FloatArray, cov: FloatArray, observe: FloatArray, reading: FloatArray, noise: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Condition a normal law on a linear measurement: m + K (y - H m), (I - K H) P.

    Examples
    --------
    >>> import numpy as np
    >>> P = np.diag([900.0, 1600.0, 400.0]); H = np.ones((1, 3))
    >>> m, _ = condition_linear(np.zeros(3), P, H, np.array([60.0]), np.array([[100.0]]))
    >>> np.round(m)
    array([18., 32., 8.])
    """
    cross = cov @ observe.T
    total = observe @ cross + noise
    if np.linalg.eigvalsh(noise)[0] < -1e-12 * max(float(np.trace(noise)), 1e-300):
        raise ValueOutOfRange("a measurement's covariance must not be negative in any direction")
    gain = np.linalg.solve(total, cross.T).T
    left = np.eye(mean.size) - gain @ observe
    updated: FloatArray = left @ cov @ left.T + gain @ noise @ gain.T
    return mean + gain @ (reading - observe @ mean), updated


def condition_on_units(chain: Chain, measured: tuple[MeasuredUnit, ...]) -> Chain:
    """Return the chain with the causes that a cast check sees in their joint conditional law.

    Every cause keeps its link and gets its own narrower law; what was independent becomes correlated, because the check
    sees only sums. Laws that are not normal enter by mean and variance. Units on which no male or rest was made on the
    cast are left out: their place reaches nothing. A body that stands where ordinary technique hardly ever puts one is
    believed to stand there: its prior is widened so far that the reading decides.
    """
    problem = _state_problem(_widen(chain, measured), measured)
    if problem is None:
        return chain
    n = len(problem.seen)
    mean, cov = condition_linear(problem.mean, problem.prior, problem.observe, problem.reading, problem.noise)
    spread = np.sqrt(np.maximum(np.diag(cov)[:n], 0.0))
    causes = list(chain.causes)
    for i, k in enumerate(problem.seen):
        u = problem.u[i]
        causes[k] = replace(causes[k], law=Normal(float(mean[i] * u), float(spread[i] * u)))
    correlation = np.eye(len(causes)) if chain.correlation is None else chain.correlation.copy()
    known = np.where(spread > 0, spread, 1.0)
    among = cov[:n, :n] / np.outer(known, known)
    np.fill_diagonal(among, 1.0)
    correlation[np.ix_(problem.seen, problem.seen)] = among
    return replace(chain, causes=tuple(causes), correlation=correlation)


def find_surprises(chain: Chain, measured: tuple[MeasuredUnit, ...]) -> dict[str, float]:
    """Return, per measured body, the chance that ordinary good technique puts it as far off as it was found.

    Each body is judged given where the others are: the squared distance of its reading from what the chain then
    expects, in its own covariance, follows a chi-square law. The chance counts all bodies looked at (Bonferroni).
    """
    problem = _state_problem(chain, measured)
    if problem is None or len(problem.rows_of) < 2:
        return {}
    return {
        body: min(1.0, len(problem.rows_of) * float(stats.chi2.sf(distance, n)))
        for body, (distance, n) in _distances(problem).items()
    }


SURPRISING = 0.01  # judgement: one cast in a hundred


def _distances(problem: "_Problem") -> dict[str, tuple[float, int]]:
    spread = problem.observe @ problem.prior @ problem.observe.T + problem.noise
    precision = np.linalg.inv(spread)
    pulled = precision @ (problem.reading - problem.observe @ problem.mean)
    found = {}
    for body, rows in problem.rows_of.items():
        own = pulled[rows]
        found[body] = (float(own @ np.linalg.solve(precision[np.ix_(rows, rows)], own)), len(rows))
    return found


def _widen(chain: Chain, measured: tuple[MeasuredUnit, ...]) -> Chain:
    surprises = find_surprises(chain, measured)
    grave = {body for body, chance in surprises.items() if chance < SURPRISING}
    problem = _state_problem(chain, measured) if grave else None
    if problem is None:
        return chain
    factors = {body: max(distance / n, 1.0) for body, (distance, n) in _distances(problem).items() if body in grave}
    causes = []
    for cause in chain.causes:
        link, *rest = cause.name.split("/")
        factor = factors.get(rest[0], 1.0) if rest and link in _PER_BODY else 1.0
        law = Normal(cause.law.mean, cause.law.u * factor) if factor > 1 else cause.law
        causes.append(replace(cause, law=law))
    return replace(chain, causes=tuple(causes))


_PER_BODY = ("pick_up", "index", "die")


@dataclass(frozen=True, slots=True)
class _Problem:
    seen: list[int]
    u: FloatArray
    rows_of: dict[str, list[int]]
    mean: FloatArray
    prior: FloatArray
    observe: FloatArray
    reading: FloatArray
    noise: FloatArray


def _state_problem(chain: Chain, measured: tuple[MeasuredUnit, ...]) -> _Problem | None:
    """Write the check as readings of standardized causes and of six unknowns of the common motion."""
    seen = [k for k, cause in enumerate(chain.causes) if cause.link in _SEEN and cause.law.u > 0]
    measured = tuple(unit for unit in measured if _feature_on(chain, unit.tooth) is not None)
    if not seen or not measured:
        return None
    causes = [chain.causes[k] for k in seen]
    observe, reading, noise = _observation(chain, causes, measured)
    n = len(causes)
    observe[:, :n] *= np.array([c.law.u for c in causes])
    mean = np.concatenate([[c.law.mean / c.law.u for c in causes], np.zeros(6)])
    prior = np.diag(np.concatenate([np.ones(n), np.full(6, _FREE**2)]))
    if chain.correlation is not None:
        prior[:n, :n] = chain.correlation[np.ix_(seen, seen)]
    u = np.array([c.law.u for c in causes])
    return _Problem(seen, u, _rows_of(chain, measured), mean, prior, observe, reading, noise)


def _rows_of(chain: Chain, measured: tuple[MeasuredUnit, ...]) -> dict[str, list[int]]:
    rows: dict[str, list[int]] = {}
    for m, unit in enumerate(measured):
        body = chain.bodies[chain.features[_feature_on(chain, unit.tooth) or 0].body].id
        rows.setdefault(body, []).extend(range(6 * m, 6 * m + 6))
    return rows


_SEEN = ("pick_up", "index", "whole_cast_scale", "impression", "stone", "stone_late", "die")
"""Links that a scan of the poured cast sees; drift and the framework come after it."""


def _observation(
    chain: Chain, causes: list[Cause], measured: tuple[MeasuredUnit, ...]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    rows = 6 * len(measured)
    observe = np.zeros((rows, len(causes) + 6))
    reading = np.zeros(rows)
    noise = np.zeros((rows, rows))
    for m, unit in enumerate(measured):
        block = slice(6 * m, 6 * m + 6)
        at = np.asarray(unit.about_mm, dtype=float)
        feature = _feature_on(chain, unit.tooth) or 0
        offset = at - chain.features[feature].at_mm
        for k, cause in enumerate(causes):
            pose = cause.loading[6 * feature : 6 * feature + 6]
            observe[block, k] = np.concatenate([pose[:3] + cross(pose[3:], offset), pose[3:]])
        observe[block, -6:] = np.eye(6)
        observe[6 * m : 6 * m + 3, -3:] = skew(at - chain.center_mm)
        reading[block] = np.concatenate([unit.shift_mm, unit.turn_rad])
        noise[block, block] = unit.cov
    return observe, reading, noise


def _feature_on(chain: Chain, tooth: int) -> int | None:
    for index, feature in enumerate(chain.features):
        if tooth in chain.bodies[feature.body].teeth and not feature.is_picked_up:
            return index
    return None
