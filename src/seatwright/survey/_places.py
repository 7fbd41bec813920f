"""What stands at a place on the cast, in words that name the plan."""

import math
from collections.abc import Callable

from seatwright.case import Case

__all__ = ["place_namer"]

_FITTING_MM, _MARK_MM, _UNIT_MM = 4.0, 2.0, 7.0  # judgement: reach of a fitting, a mark, and half a molar's length
Place = tuple[float, float, float]


def place_namer(case: Case) -> Callable[[Place], str]:
    """Return a function from a place on the reference scan to words: nearest fitting, mark or unit.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> region = SimpleNamespace(tooth=44, seed_mm=(1.0, 2.0, 3.0))
    >>> name = place_namer(SimpleNamespace(attachment=(), rest=(), clasp=(), guide_plane=(), region=(region,)))
    >>> name((1.0, 2.0, 4.0)), name((30.0, 0.0, 0.0))
    ('44', '30.0, 0.0, 0.0 mm')
    """
    known: list[tuple[Place, float, str]] = []
    known += [(a.at_mm, _FITTING_MM, a.id) for a in case.attachment if a.at_mm is not None]
    known += [(p.at_mm, _MARK_MM, f"{p.id} on {p.tooth}") for p in case.guide_plane if p.at_mm is not None]
    known += [(r.at_mm, _MARK_MM, f"{r.id} on {r.tooth}") for r in case.rest if r.at_mm is not None]
    known += [(c.tip_mm, _MARK_MM, f"{c.id} on {c.tooth}") for c in case.clasp if c.tip_mm is not None]
    units: list[tuple[Place, float, str]] = [
        (r.seed_mm, _UNIT_MM, str(r.tooth)) for r in case.region if r.seed_mm is not None
    ]

    def name(at: Place) -> str:
        for group in (known, units):
            near = [(math.dist(at, place), words) for place, reach, words in group if math.dist(at, place) <= reach]
            if near:
                return min(near)[1]
        return f"{at[0]:.1f}, {at[1]:.1f}, {at[2]:.1f} mm"

    return name
