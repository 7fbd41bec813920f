"""Misfit of each feature: what is left of its error after the partial has been placed as well as one rigid body can be.

Every number here is linear in the causes, so the law of propagation is exact for spreads, and shares add up to one.
"""

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from seatwright.evidence import find_evidence
from seatwright.forecast._bodies import Body
from seatwright.forecast._causes import Chain
from seatwright.forecast._choices import Choices
from seatwright.forecast._levels import take_level
from seatwright.forecast._vectors import across, cross
from seatwright.quantities import FloatArray

__all__ = ["Measurand", "find_measurands", "share_of_links"]


@dataclass(frozen=True, slots=True)
class Measurand:
    """One signed length, linear in the error vector.

    Attributes
    ----------
    id, what : str
        ``what`` is 'sideways', 'along the path' or 'distance'.
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
    """Return sideways misfit of each attachment, misfit along the path of each stop, and distances between bodies.

    The sideways component is taken along the direction in which it varies most.
    """
    rows = _components(chain)
    left_over = _residual_maker(chain, rows)
    found: list[Measurand] = []
    for index, feature in enumerate(chain.features):
        own = [k for k, row in enumerate(rows) if row.feature == index]
        vectors = {rows[k].what: left_over[k] for k in own}
        play = _play_mm(chain.bodies[feature.body], choices)
        if "first" in vectors:
            major, minor = _principal(chain, vectors["first"], vectors["second"])
            found.append(Measurand(feature.id, "sideways", major, minor, feature.gap_mm + play))
        if "along" in vectors:
            allowed = choices.rest_gap_um or find_evidence("fc_rest_gap").require_value()
            name = feature.id if feature.kind == "rest" else f"{feature.id}/stop"
            found.append(Measurand(name, "along the path", vectors["along"], None, allowed / 2000))
    found += _distances(chain, choices)
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Component:
    feature: int
    what: str
    normal: FloatArray


def _components(chain: Chain) -> list[_Component]:
    rows = []
    for index, feature in enumerate(chain.features):
        first, second = across(feature.axis, feature.at_mm - chain.center_mm)
        if feature.kind != "rest":
            rows.append(_Component(index, "first", first))
            rows.append(_Component(index, "second", second))
        if feature.has_stop:
            rows.append(_Component(index, "along", feature.axis))
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
    maker: FloatArray = pick - rigid @ (np.linalg.pinv(rigid) @ pick)
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
        (implant if a.is_implant else mobility / len(body.abutments)) + (0.0 if a.is_screwed else cement)
        for a in body.abutments
    ]
    return min(gives) / 1000


def _distances(chain: Chain, choices: Choices) -> list[Measurand]:
    found = []
    guided = [(i, f) for i, f in enumerate(chain.features) if f.kind != "rest" and f.joined is not None]
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
    """Return each link's share of a linear measurand's variance; the causes are independent, so they sum to one."""
    parts: dict[str, float] = {}
    for cause in chain.causes:
        part = float(coefficients @ cause.loading) * cause.law.u
        parts[cause.link] = parts.get(cause.link, 0.0) + part * part
    total = math.fsum(parts.values())
    return {link: part / total for link, part in parts.items()} if total > 0 else dict.fromkeys(parts, 0.0)
