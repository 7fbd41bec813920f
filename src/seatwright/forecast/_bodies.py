"""Which fixed units are one rigid body, on which abutments it stands, and how much each lets it give.

Owns the bodies of a case: joins and bars unite units. Refuses to know what moves them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from seatwright.arch import nominal_layout
from seatwright.case import Case, UnitKind
from seatwright.quantities import FloatArray

__all__ = ["Abutment", "Body", "find_bodies", "nominal_place", "place_teeth"]


@dataclass(frozen=True, slots=True)
class Abutment:
    """One tooth or implant under a body."""

    tooth: int
    at_mm: FloatArray
    """Center of its crown, reference frame, shape (3,)."""
    is_implant: bool
    is_screwed: bool
    neck_mm: float | None
    technique: str
    is_natural: bool = False
    """A tooth without a crown: the cast shows it itself, nothing is cemented on it."""

    @property
    def has_cement_space(self) -> bool:
        """Whether its crown still has the room that cement will fill."""
        return not (self.is_screwed or self.is_natural)


@dataclass(frozen=True)
class Body:
    """Units that move as one."""

    id: str
    teeth: tuple[int, ...]
    abutments: tuple[Abutment, ...]

    @cached_property
    def center_mm(self) -> FloatArray:
        """Mean of its abutments' places, shape (3,)."""
        center: FloatArray = np.mean([a.at_mm for a in self.abutments], axis=0)
        return center


def place_teeth(case: Case) -> tuple[dict[int, FloatArray], tuple[int, ...]]:
    """Return each unit's place (reference frame, mm) and the teeth whose place is only nominal.

    The region's seed where the case gives one; else the average arch, laid on the seeds' centroid height.
    """
    seeds = _seeds(case)
    places = {u.tooth: seeds[u.tooth] if u.tooth in seeds else nominal_place(case, u.tooth) for u in case.unit}
    nominal = tuple(u.tooth for u in case.unit if u.tooth not in seeds and u.kind is not UnitKind.PONTIC)
    return places, nominal


def nominal_place(case: Case, tooth: int) -> FloatArray:
    """Return where a tooth stands on an average arch that is laid over the case's own seeds, mm."""
    seeds, layout = _seeds(case), nominal_layout(case.arch)
    offset: FloatArray = np.zeros(3)
    if seeds:
        offset = np.mean([s - [layout[t].x_mm, layout[t].y_mm, 0.0] for t, s in seeds.items()], axis=0)
    return np.array([layout[tooth].x_mm, layout[tooth].y_mm, 0.0]) + offset


def _seeds(case: Case) -> dict[int, FloatArray]:
    return {r.tooth: np.array(r.seed_mm, dtype=float) for r in case.region if r.seed_mm is not None}


def find_bodies(case: Case, techniques: Mapping[int, str]) -> tuple[Body, ...]:
    """Return the case's rigid bodies in the order of their first unit; a bar unites the units at its ends.

    A body without an abutment (a pontic joined to nothing) is left out: the case's own check reports it.
    """
    places, _ = place_teeth(case)
    bodies: list[Body] = []
    seen: set[int] = set()
    for unit in case.unit:
        if unit.tooth in seen:
            continue
        teeth = _joined(case, unit.tooth)
        seen.update(teeth)
        abutments = tuple(
            Abutment(
                tooth=tooth,
                at_mm=places[tooth],
                is_implant=tooth in case.teeth.implants,
                is_screwed=case.unit_at(tooth).kind is UnitKind.IMPLANT_SCREWED,
                neck_mm=case.unit_at(tooth).neck_mm,
                technique=techniques.get(tooth, "stone"),
            )
            for tooth in teeth
            if case.unit_at(tooth).kind is not UnitKind.PONTIC
        )
        if abutments:
            bodies.append(Body("-".join(str(t) for t in teeth), teeth, abutments))
    return (*bodies, *_natural_bodies(case))


def _natural_bodies(case: Case) -> list[Body]:
    """Return the teeth without a crown on which a rest or a clasp of the partial holds."""
    planned = {unit.tooth for unit in case.unit}
    marks: dict[int, list[tuple[float, float, float] | None]] = {}
    for tooth, mark in (*((r.tooth, r.at_mm) for r in case.rest), *((c.tooth, c.tip_mm) for c in case.clasp)):
        if tooth not in planned:
            marks.setdefault(tooth, []).append(mark)
    bodies = []
    for tooth, places in marks.items():
        known = [np.array(p, dtype=float) for p in places if p is not None]
        at: FloatArray = np.mean(known, axis=0) if known else nominal_place(case, tooth)
        on_implant = tooth in case.teeth.implants
        bodies.append(Body(str(tooth), (tooth,), (Abutment(tooth, at, on_implant, False, None, "natural", True),)))
    return bodies


def _joined(case: Case, tooth: int) -> tuple[int, ...]:
    planned = {unit.tooth for unit in case.unit}
    return tuple(t for t in case.body_of(tooth) if t in planned)
