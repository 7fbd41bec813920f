"""Whether the parts of a case agree with each other: every fault, each with its place and its remedy.

Owns the order and the collecting; the rules stand by subject in the `_check_` modules beside this one.
Says what contradicts itself; what is merely unlikely is a finding (`review_case`).
"""

from seatwright.case._bench import Bench
from seatwright.case._check_attachments import check_attachments
from seatwright.case._check_delivery import check_delivery
from seatwright.case._check_partial import check_partial
from seatwright.case._check_teeth import check_teeth
from seatwright.case._check_units import check_units
from seatwright.case._document import Case
from seatwright.case._faults import find_repeated, located
from seatwright.errors import Fault

__all__ = ["find_contradictions", "validate_bench", "validate_case"]


def validate_case(case: Case, *, file: str = "case.toml") -> tuple[Fault, ...]:
    """Return every contradiction inside a case, in the order of the document; empty when it is sound.

    Parameters
    ----------
    case : Case
        A document whose single fields are already legal.
    file : str
        Name that each fault's place begins with.

    Returns
    -------
    tuple of Fault
        `where` reads like ``case.toml: unit[3].margin``; indices count from 0.
    """
    return located(find_contradictions(case), file)


def find_contradictions(case: Case) -> list[Fault]:
    """Return what `validate_case` does, with places that begin inside the document."""
    return [
        *check_teeth(case),
        *check_units(case),
        *check_attachments(case),
        *check_partial(case),
        *check_delivery(case),
    ]


def validate_bench(bench: Bench, *, file: str = "bench.toml") -> tuple[Fault, ...]:
    """Return every contradiction inside a bench file; empty when it is sound."""
    faults: list[Fault] = []
    if not bench.person:
        faults.append(Fault("person", "nobody works at this bench", "add at least one [[person]] with skills"))
    faults += find_repeated("person", "id", [p.id for p in bench.person])
    faults += find_repeated("equipment", "id", [e.id for e in bench.equipment])
    faults += find_repeated("stone", "stone", [s.stone.value for s in bench.stone])
    faults += find_repeated("impression_material", "material", [m.material.value for m in bench.impression_material])
    for i, person in enumerate(bench.person):
        faults += find_repeated(f"person[{i}].skills", "", [s.value for s in person.skills])
    return located(faults, file)
