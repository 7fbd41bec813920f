"""Small invented seats with known answers, shared by the tests of the seating program."""

from typing import Any

import numpy as np
from tests.examples import demo_attachments, demo_case

from seatwright.case import Case, Clasp, ClaspAlloy, ClaspApproach, ClaspForm, MaleJoin, Rest, RestKind, Surface
from seatwright.forecast._bodies import Abutment, Body
from seatwright.forecast._choices import Choices
from seatwright.forecast._features import Feature
from seatwright.forecast._program import SeatingProgram, build_program

UP = np.array([0.0, 0.0, 1.0])
IMPLANT_GIVE_MM = 0.004
"""Typical give of an implant; a screwed crown has no other play."""


RESTS = (
    Rest(id="rest-33", tooth=33, kind=RestKind.CINGULUM, surface=Surface.LINGUAL, at_mm=(11.7, -1.5, 7.0)),
    Rest(id="rest-43", tooth=43, kind=RestKind.CINGULUM, surface=Surface.LINGUAL, at_mm=(-12.0, -0.5, 7.0)),
    Rest(id="rest-44", tooth=44, kind=RestKind.OCCLUSAL, surface=Surface.MESIAL, at_mm=(-15.9, 5.2, 7.0)),
)
CLASP = Clasp(
    id="clasp-44",
    tooth=44,
    surface=Surface.FACIAL,
    approach=ClaspApproach.SUPRABULGE,
    form=ClaspForm.WROUGHT,
    alloy=ClaspAlloy.GOLD,
    tip_mm=(-19.5, 4.0, 5.0),
)


def seat_case(**other: Any) -> Case:
    """Return the example case with three rests and a clasp."""
    return demo_case(**({"rest": RESTS, "clasp": (CLASP,)} | other))


def twin_case() -> Case:
    """Return the same with two rigid axes 2.6 degrees apart."""
    return seat_case(attachment=demo_attachments(divergence_deg=2.6))


def implant_body(tooth: int, at_mm: tuple[float, float, float]) -> Body:
    return Body(str(tooth), (tooth,), (Abutment(tooth, np.array(at_mm), True, True, None, "analog"),))


def tooth_body(tooth: int, at_mm: tuple[float, float, float]) -> Body:
    return Body(str(tooth), (tooth,), (Abutment(tooth, np.array(at_mm), False, False, 5.0, "gel"),))


def slide(name: str, body: int, at_mm: tuple[float, float, float], gap_mm: float = 0.02, **other: object) -> Feature:
    fields: dict[str, object] = {
        "id": name, "kind": "slide", "body": body, "at_mm": np.array(at_mm), "axis": UP, "length_mm": 5.0,
        "gap_mm": gap_mm, "radius_mm": 1.25, "taper_rad": 0.0, "joined": MaleJoin.CAST_ON, "is_rigid": True,
    }  # fmt: skip
    return Feature(**(fields | other))  # type: ignore[arg-type]


def rest(name: str, body: int, at_mm: tuple[float, float, float]) -> Feature:
    return slide(name, body, at_mm, 0.0, kind="rest", length_mm=0.0, radius_mm=0.0, joined=None)


def two_slides(gap_mm: float, **other: object) -> tuple[tuple[Feature, ...], tuple[Body, ...]]:
    """Two slides 30 mm apart along x, each on its own implant."""
    bodies = (implant_body(34, (0.0, 0.0, 0.0)), implant_body(44, (30.0, 0.0, 0.0)))
    features = (slide("a", 0, (0.0, 0.0, 0.0), gap_mm, **other), slide("b", 1, (30.0, 0.0, 0.0), gap_mm, **other))
    return features, bodies


def four_slides_three_rests(gap_mm: float = 0.02) -> tuple[tuple[Feature, ...], tuple[Body, ...]]:
    places = ((22.0, 24.0, 6.0), (18.0, 8.0, 6.0), (-12.0, 1.0, 6.0), (-19.0, 10.0, 6.0))
    bodies = tuple(tooth_body(t, p) for t, p in zip((37, 35, 43, 45), places, strict=True))
    slides = tuple(slide(f"s{i}", i, p, gap_mm) for i, p in enumerate(places))
    rests = tuple(rest(f"r{i}", i, (x, y - 2.0, z)) for i, (x, y, z) in enumerate(places[:3]))
    return slides + rests, bodies


def program(features: tuple[Feature, ...], bodies: tuple[Body, ...], **choices: object) -> SeatingProgram:
    return build_program(features, bodies, UP, Choices(**choices))  # type: ignore[arg-type]


def random_errors(features: tuple[Feature, ...], n: int, *, seed: int = 1, side_mm: float = 0.05) -> np.ndarray:
    rng = np.random.default_rng(seed)
    errors = rng.standard_normal((n, len(features), 6)) * [side_mm, side_mm, 0.08, 0.003, 0.003, 0.003]
    return errors.reshape(n, -1)
