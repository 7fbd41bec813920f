"""One small linear program, solved again and again for other right-hand sides: dual simplex from cached bases.

Owns the numbers: maximize the last unknown s subject to ``rows @ z <= limits``. A basis (as many tight rows as
unknowns, weights >= 0) that was best once stays a proof of an upper bound for every right-hand side, so each new trial
starts at the cached basis with the smallest bound and usually ends there. Refuses to know what a row means.

The objective carries a tiny tilt (about 1e-7 per unknown) that keeps every weight positive and so rules out cycling;
the slack is exact to a few nanometres. A walk that should still not end is handed to a general solver.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from seatwright.errors import CannotCompute
from seatwright.forecast._simplex_kernels import solve_from_pool
from seatwright.quantities import FloatArray

__all__ = ["BasisPool"]

_BOX = 50.0  # judgement: bounds every unknown (mm, or mrad over a lever), far beyond any real placement
_TILT = 1e-7  # judgement: objective tilt, changes the slack by less than 5e-6 mm
_PROOF_MM = 5e-6  # judgement: what the tilt can hide when a bound proves a negative slack
_FEASIBLE_MM = 1e-9  # judgement: rounding of double arithmetic at millimetre size
_GOLDEN = 0.6180339887498949  # definition: golden ratio, spreads the tilts evenly
_MAX_CONDITION = 1e8  # judgement: a basis worse than this starts no trial
_MAX_POOL = 128  # judgement: more bases cost more bounds than they save pivots
_BLOCK = 2048  # judgement: trials at a time, so that their bounds fit the cache
_FIRST_BLOCK = 128  # judgement: trials solved from scratch before the pool is used


class BasisPool:
    """Cached bases of one program; solving adds to it, answers never depend on what it holds.

    Parameters
    ----------
    rows : ndarray of shape (m, n)
        Constraint rows; the last unknown is the slack, which some row must bound.
    groups : ndarray of shape (m,), int
        What each row belongs to; -1 for rows that nobody asks about.
    """

    def __init__(self, rows: FloatArray, groups: NDArray[np.int64]) -> None:
        n = rows.shape[1]
        box = np.vstack([np.eye(n)[: n - 1], -np.eye(n)[: n - 1], np.eye(n)[n - 1 :]])
        self.n_rows = rows.shape[0]
        self._rows = np.ascontiguousarray(np.vstack([rows, box]))
        self._groups = np.concatenate([groups, np.full(box.shape[0], -1)])
        self._n_groups = int(groups.max()) + 1
        self._objective = _TILT * (0.5 + np.modf(np.arange(1, n + 1) * _GOLDEN)[0])
        self._objective[n - 1] = 1.0
        start = np.concatenate([np.arange(n - 1), [2 * (n - 1)]]) + self.n_rows
        self._known: set[bytes] = set()
        self._bases: list[NDArray[np.int64]] = []
        self._inverses: list[FloatArray] = []
        self._duals: list[FloatArray] = []
        self._add(np.asarray(start, dtype=np.int64))

    @property
    def n_bases(self) -> int:
        """Bases cached so far."""
        return len(self._bases)

    def solves(self, rows: FloatArray) -> bool:
        """Whether this pool belongs to these very rows."""
        own = self._rows[: self.n_rows]
        return own.shape == rows.shape and bool(np.array_equal(own, rows))

    def _add(self, basis: NDArray[np.int64]) -> None:
        ordered = np.sort(basis)
        key = ordered.tobytes()
        if key in self._known or len(self._bases) >= _MAX_POOL:
            return
        self._known.add(key)
        matrix = self._rows[ordered]
        if np.linalg.cond(matrix) > _MAX_CONDITION:
            return
        inverse = np.linalg.inv(matrix)
        duals = self._objective @ inverse
        if duals.min() >= -_FEASIBLE_MM:
            self._bases.append(ordered)
            self._inverses.append(inverse)
            self._duals.append(np.maximum(duals, 0.0))

    def solve(self, limits: FloatArray, *, sign_only: bool = False) -> tuple[FloatArray, FloatArray]:
        """Solve for many right-hand sides.

        Parameters
        ----------
        limits : ndarray of shape (n_trials, m)
            Right-hand sides, mm.
        sign_only : bool
            Stop as soon as the sign is proved: a negative slack is then an upper bound, a zero a lower one.

        Returns
        -------
        slack : ndarray of shape (n_trials,)
        weights : ndarray of shape (n_trials, n_groups)
            How much each group's rows bind, or prove infeasibility; each row sums to one.

        Raises
        ------
        CannotCompute
            If a program did not end (a bug or wildly scaled input).
        """
        n_trials = limits.shape[0]
        slack = np.empty(n_trials)
        weights = np.zeros((n_trials, self._n_groups))
        done = 0
        while done < n_trials:
            size = _FIRST_BLOCK if len(self._bases) == 1 else _BLOCK
            block = slice(done, min(done + size, n_trials))
            slack[block], weights[block] = self._solve_block(self._boxed(limits[block]), sign_only=sign_only)
            done = block.stop
        for trial in np.flatnonzero(np.isnan(slack)):
            slack[trial], weights[trial] = self._solve_otherwise(self._boxed(limits[trial : trial + 1])[0])
        return slack, weights

    def _boxed(self, limits: FloatArray) -> FloatArray:
        return np.hstack([limits, np.full((limits.shape[0], self._rows.shape[0] - self.n_rows), _BOX)])

    def _solve_otherwise(self, limits: FloatArray) -> tuple[float, FloatArray]:
        answer = linprog(-np.eye(self._rows.shape[1])[-1], A_ub=self._rows, b_ub=limits, bounds=(None, None))
        if answer.status != 0:
            raise CannotCompute(
                "a seating program has no solution", hint="the geometry may be scaled wrongly (mm expected)"
            )
        duals = np.maximum(-answer.ineqlin.marginals, 0.0)
        known = self._groups >= 0
        by_group = np.bincount(self._groups[known], weights=duals[known], minlength=self._n_groups)
        return -float(answer.fun or 0.0), by_group / max(by_group.sum(), 1e-12)

    def _solve_block(self, limits: FloatArray, *, sign_only: bool) -> tuple[FloatArray, FloatArray]:
        bases = np.array(self._bases)
        inverses, duals = np.array(self._inverses), np.array(self._duals)
        dense = np.zeros((len(bases), self._rows.shape[0]))
        np.put_along_axis(dense, bases, duals, axis=1)
        start = np.argmin(limits @ dense.T, axis=1)
        n_trials, n = limits.shape[0], self._rows.shape[1]
        stop_below = -_PROOF_MM if sign_only else -np.inf
        slack = np.empty(n_trials)
        last = np.empty((n_trials, n), dtype=np.int64)
        weights = np.zeros((n_trials, self._n_groups))
        solve_from_pool(
            self._rows,
            limits,
            start,
            bases,
            inverses,
            duals,
            stop_below,
            self.n_rows,
            slack,
            last,
            self._groups,
            weights,
        )
        for basis in last:
            if len(self._bases) >= _MAX_POOL:
                break
            self._add(basis)
        return slack, weights
