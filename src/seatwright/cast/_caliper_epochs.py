"""Networks of both epochs: which marks can be placed, in how many dimensions, which distances contradict the others."""

import math
from dataclasses import dataclass, replace

import numpy as np

from seatwright.cast._caliper_readings import MeanDistance
from seatwright.cast._network import Distances, NetworkFit
from seatwright.cast._network_start import find_rigid_marks, place_marks, settle_network
from seatwright.cast._network_tests import GlobalTest, Snooping, judge_globally, snoop
from seatwright.errors import CannotCompute

__all__ = ["EpochNetwork", "Figure", "choose_figure"]

Pair = tuple[str, str]
Means = dict[Pair, MeanDistance]

_MOST_MARKS = 14  # judgement: more than any arch is measured with by hand; keeps the search for stable marks short
_ALPHA_PLANE = 0.001  # judgement: a plane is given up only when it plainly does not hold
_FIRM = 0.3  # judgement: heights count as known when their uncertainty is below this share of their spread


@dataclass(frozen=True, slots=True, eq=False)
class EpochNetwork:
    """One epoch's adjusted network.

    Attributes
    ----------
    pairs : tuple of pairs
        Distances used, in the order of the fit's rows.
    fit : NetworkFit
    test : GlobalTest
    snooping : Snooping
    distances : Distances
    suspects : tuple of pairs
        Those that contradict the others.
    mirrored : tuple of str
    """

    pairs: tuple[Pair, ...]
    fit: NetworkFit
    test: GlobalTest
    snooping: Snooping
    distances: Distances
    suspects: tuple[Pair, ...]
    mirrored: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Figure:
    """The marks that both epochs fix, and the dimensions they are placed in.

    Attributes
    ----------
    marks : tuple of str
    loose : tuple of str
        Marks that some epoch does not fix.
    n_axes : int
    because : str
    networks : tuple of EpochNetwork
        Reference first; one only when the other was not read. Each in its own datum.
    """

    marks: tuple[str, ...]
    loose: tuple[str, ...]
    n_axes: int
    because: str
    networks: tuple[EpochNetwork, ...]


def choose_figure(epochs: tuple[Means, ...], *, dof: float, n_axes: int | None) -> Figure | None:
    """Place the marks in as many dimensions as the distances support; None when they fix no figure at all.

    A plane is preferred; space is taken when both epochs contradict a plane and heights come out firmly; a line when
    the marks stand in one line.
    """
    names = sorted({name for means in epochs for pair in means for name in pair})
    if len(names) > _MOST_MARKS:
        raise CannotCompute(
            f"{len(names)} marks are more than the {_MOST_MARKS} that are taken",
            hint="leave out marks of less interest",
        )
    if n_axes is not None:
        figure = _try_figure(epochs, names, n_axes, dof)
        if figure is None:
            raise CannotCompute(
                f"the distances fix no figure in {n_axes} dimensions",
                hint="measure more distances between the marks, or let the dimension be chosen",
            )
        return replace(figure, because="as asked")
    plane = _try_figure(epochs, names, 2, dof)
    if plane is not None and len(plane.marks) >= 3 and _is_firm(plane):
        if all(_holds(network, dof) for network in plane.networks):
            return replace(plane, because=_why_plane(plane))
        space = _try_figure(epochs, names, 3, dof)
        both_fail = not any(_holds(network, dof) for network in plane.networks)
        if both_fail and space is not None and len(space.marks) == len(plane.marks) and _is_firm(space):
            return replace(space, because="marks differ in height: every epoch contradicts a plane")
        why = (
            "a plane, though the distances do not quite fit one"
            if both_fail
            else "one place fits a plane, the other not"
        )
        return replace(plane, because=why)
    line = _try_figure(epochs, names, 1, dof)
    if line is not None and any(_holds(network, dof) for network in line.networks):
        why = "only one distance" if len(line.marks) == 2 else "the marks stand in one line"
        return replace(line, because=why)
    return replace(plane, because="a plane, poorly fixed") if plane is not None else None


def _why_plane(figure: Figure) -> str:
    if len(figure.marks) == 3:
        return "three marks always lie in a plane"
    if all(network.fit.n_redundant == 0 for network in figure.networks):
        return "a plane is assumed: no distance is left over to test it"
    return "the distances fit a plane"


def _holds(network: EpochNetwork, dof: float) -> bool:
    return judge_globally(network.fit, dof=dof, alpha=_ALPHA_PLANE).passes


def _is_firm(figure: Figure) -> bool:
    """Whether the smallest extent of the figure is known well against its own size."""
    for network in figure.networks:
        points = network.fit.points_mm
        centered = points - points.mean(axis=0)
        _, strengths, axes = np.linalg.svd(centered, full_matrices=True)
        spread = float(strengths[-1]) / math.sqrt(len(points)) if len(strengths) == points.shape[1] else 0.0
        along = np.kron(np.eye(len(points)), axes[-1])
        u = math.sqrt(float(np.diag(along @ network.fit.covariance @ along.T).max()))
        if u > _FIRM * spread:
            return False
    return True


def _try_figure(epochs: tuple[Means, ...], names: list[str], n_axes: int, dof: float) -> Figure | None:
    kept = list(names)
    for _ in range(len(names)):
        if len(kept) < 2:
            return None
        held = [_rigid_names(means, kept, n_axes) for means in epochs]
        common = [name for name in kept if all(name in part for part in held)]
        if len(common) == len(kept):
            break
        kept = common
    if len(kept) <= n_axes:
        return None
    networks = []
    for means in epochs:
        network = _adjust(means, kept, n_axes, dof)
        if network is None:
            return None
        networks.append(network)
    loose = tuple(name for name in names if name not in kept)
    return Figure(tuple(kept), loose, n_axes, "", tuple(networks))


def _rigid_names(means: Means, names: list[str], n_axes: int) -> set[str]:
    """Return the marks of the largest chained group that the distances hold rigidly."""
    group = _chained(means, names)
    if len(group) < 2:
        return set()
    distances, _ = _as_distances(means, group)
    try:
        start = place_marks(len(group), distances, n_axes)
        return {group[k] for k in find_rigid_marks(start, distances.pairs)}
    except CannotCompute:
        return set()


def _chained(means: Means, names: list[str]) -> list[str]:
    """Return the largest group of marks connected by distances."""
    groups: list[set[str]] = [{name} for name in names]
    for first, second in means:
        if first in names and second in names:
            one = next(g for g in groups if first in g)
            two = next(g for g in groups if second in g)
            if one is not two:
                groups.remove(two)
                one |= two
    largest = max(groups, key=len)
    return [name for name in names if name in largest]


def _as_distances(means: Means, names: list[str]) -> tuple[Distances, tuple[Pair, ...]]:
    pairs = tuple(pair for pair in means if pair[0] in names and pair[1] in names)
    index = {name: k for k, name in enumerate(names)}
    numbers = np.array([[index[a], index[b]] for a, b in pairs], dtype=np.intp).reshape(-1, 2)
    return (
        Distances(numbers, np.array([means[p].length_mm for p in pairs]), np.array([means[p].u_mm for p in pairs])),
        pairs,
    )


def _adjust(means: Means, names: list[str], n_axes: int, dof: float) -> EpochNetwork | None:
    distances, pairs = _as_distances(means, names)
    try:
        settled = settle_network(len(names), distances, n_axes)
    except CannotCompute:
        return None
    fit = settled.fit
    if not fit.converged:
        return None
    mirrored = tuple(names[k] for k in settled.mirrored)
    test = judge_globally(fit, dof=dof)
    snooping = snoop(fit, distances, dof=dof)
    suspects = tuple(pairs[k] for k in snooping.suspects)
    return EpochNetwork(pairs, fit, test, snooping, distances, suspects, mirrored)
