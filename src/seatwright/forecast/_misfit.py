"""Misfit of each feature: what is left of its error after the partial has been placed as well as one rigid body can be.

Every number here is linear in the causes, so the law of propagation is exact for spreads, and shares add up to one.
"""

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from seatwright.forecast._bodies import Body
from seatwright.forecast._chain import Chain
from seatwright.forecast._choices import Choices
from seatwright.forecast._features import allowed_gap_mm
from seatwright.forecast._levels import read_record, take_level
from seatwright.forecast._vectors import across, cross
from seatwright.quantities import FloatArray, shapley_of_linear

__all__ = ["Measurand", "find_measurands", "shapley_of_links", "share_of_links"]


@dataclass(frozen=True, slots=True)
class Measurand:
    """One signed length, linear in the error vector.

    Attributes
    ----------
    id, what : str
        ``what`` is 'sideways', 'along the path', 'towards the tooth', 'up or down' or 'distance'.
    coefficients : ndarray of shape (6 * n_features,)
    second : ndarray of shape (6 * n_features,) or None
        The other sideways component, for the chance of both lying within a circle.
    allowed_mm : float
        What the place can take: clearance plus play, or half the allowed gap of a stop.
    """

    id: str
    what: str
    coefficients: FloatArray
    second: FloatArray | None
    allowed_mm: float


def find_measurands(chain: Chain, choices: Choices) -> tuple[Measurand, ...]:
    """Return what must fit: attachments sideways, stops along the path, clasp tips, distances between bodies.

    The sideways component is taken along the direction in which it varies most.
    """
    rows = _components(chain)
    left_over = _residual_maker(chain, rows)
    found: list[Measurand] = []
    for index, feature in enumerate(chain.features):
        vectors = {row.what: left_over[k] for k, row in enumerate(rows) if row.feature == index}
        if "first" in vectors:
            major, minor = _principal(chain, vectors["first"], vectors["second"])
            room = feature.gap_mm + _play_mm(chain.bodies[feature.body], choices)
            found.append(Measurand(feature.id, "sideways", major, minor, room))
        if "along" in vectors:
            name = f"{feature.id}/stop" if feature.is_guided else feature.id
            found.append(
                Measurand(name, "along the path", vectors["along"], None, allowed_gap_mm(feature, choices) / 2)
            )
        for what, record in _CLASP.items():
            if what in vectors:
                room = read_record(record, choices).require_value() / 1000
                found.append(Measurand(feature.id, what, vectors[what], None, room))
    found += _distances(chain, choices)
    return tuple(found)


_CLASP = {"towards the tooth": "fc_clasp_depth", "up or down": "fc_clasp_height"}
"""Components of a clasp's tip, each with the record of what it can take."""


@dataclass(frozen=True, slots=True)
class _Component:
    feature: int
    what: str
    normal: FloatArray
    places: bool = True
    """Whether it helps to place the partial; a clasp's tip springs and only follows."""


def _components(chain: Chain) -> list[_Component]:
    rows = []
    for index, feature in enumerate(chain.features):
        if feature.is_guided:
            first, second = across(feature.axis, feature.at_mm - chain.center_mm)
            rows.append(_Component(index, "first", first))
            rows.append(_Component(index, "second", second))
        if feature.has_stop:
            rows.append(_Component(index, "along", feature.axis))
        if feature.outward is not None:
            for what, normal in zip(_CLASP, (-feature.outward, feature.axis), strict=True):
                rows.append(_Component(index, what, normal, places=False))
    return rows


def _residual_maker(chain: Chain, rows: list[_Component]) -> FloatArray:
    """Return (n_rows, 6 * n_features): the components after the best rigid placement of what the cast joined.

    A male picked up in the mouth has its own datum there: its error stands as it is and moves nobody else.
    """
    pick = np.zeros((len(rows), 6 * len(chain.features)))
    rigid = np.zeros((len(rows), 6))
    for k, row in enumerate(rows):
        feature = chain.features[row.feature]
        pick[k, 6 * row.feature : 6 * row.feature + 3] = row.normal
        if not feature.is_picked_up:
            arm = (feature.at_mm - chain.center_mm) / 20.0  # scaled turns; any arm gives the same projection
            rigid[k] = np.concatenate([row.normal, cross(arm, row.normal)])
    placing = np.array([row.places for row in rows])
    maker: FloatArray = pick - rigid @ (np.linalg.pinv(rigid[placing]) @ pick[placing])
    return maker


def _principal(chain: Chain, first: FloatArray, second: FloatArray) -> tuple[FloatArray, FloatArray]:
    pair = np.vstack([first, second])
    spread = pair @ chain.covariance @ pair.T
    _, vectors = np.linalg.eigh(spread)
    turned = vectors.T[::-1] @ pair
    return turned[0], turned[1]


def _play_mm(body: Body, choices: Choices) -> float:
    """Sideways give of a body at its crowns: what its stiffest abutment lets it move."""
    cement = take_level("fc_play_cement", choices, more_is_better=True)
    mobility = take_level("fc_play_mobility", choices, more_is_better=True)
    implant = take_level("fc_play_implant", choices, more_is_better=True)
    gives = [
        (implant if a.is_implant else mobility / len(body.abutments)) + (cement if a.has_cement_space else 0.0)
        for a in body.abutments
    ]
    return min(gives) / 1000


def _distances(chain: Chain, choices: Choices) -> list[Measurand]:
    found = []
    guided = [(i, f) for i, f in enumerate(chain.features) if f.is_guided]
    for (i, a), (j, b) in combinations(guided, 2):
        if a.body == b.body or a.is_picked_up or b.is_picked_up:
            continue
        along = b.at_mm - a.at_mm
        along = along / np.linalg.norm(along)
        line = np.zeros(6 * len(chain.features))
        line[6 * j : 6 * j + 3], line[6 * i : 6 * i + 3] = along, -along
        room = a.gap_mm + b.gap_mm + sum(_play_mm(chain.bodies[f.body], choices) for f in (a, b))
        found.append(Measurand(f"{a.id} to {b.id}", "distance", line, None, room))
    return found


def share_of_links(chain: Chain, coefficients: FloatArray) -> dict[str, float]:
    """Return each link's share of a linear measurand Y's variance: Cov(its part, Y) / Var(Y); they sum to one.

    A share may be negative where links are correlated: that link's part makes up for another's.
    """
    reach = (coefficients @ chain.loading) * chain.u
    parts = reach * (reach if chain.correlation is None else chain.correlation @ reach)
    return _sum_by_link(chain, parts)


def shapley_of_links(chain: Chain, coefficients: FloatArray) -> dict[str, float]:
    """Return each link's Shapley effect on a linear measurand: never negative, sums to one.

    Equal to `share_of_links` while all causes are independent.
    """
    joint = list(chain.correlated)
    reach = (coefficients @ chain.loading) * chain.u
    parts = reach**2
    parts[joint] = 0.0
    if joint and chain.correlation is not None:
        groups: dict[str, list[int]] = {}
        for i, k in enumerate(joint):
            groups.setdefault(chain.causes[k].link, []).append(i)
        among = chain.correlation[np.ix_(joint, joint)]
        effects = shapley_of_linear(reach[joint], among, list(groups.values()))
        for members, effect in zip(groups.values(), effects, strict=True):
            parts[joint[members[0]]] = max(float(effect), 0.0)
    return _sum_by_link(chain, parts)


def _sum_by_link(chain: Chain, parts: FloatArray) -> dict[str, float]:
    sums: dict[str, float] = {}
    for cause, part in zip(chain.causes, parts, strict=True):
        sums[cause.link] = sums.get(cause.link, 0.0) + float(part)
    total = math.fsum(sums.values())
    return {link: part / total for link, part in sums.items()} if total > 0 else dict.fromkeys(sums, 0.0)
