"""What arch is to be made: values only."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from seatwright.arch import nominal_layout
from seatwright.case import Arch, Surface
from seatwright.errors import ValueOutOfRange

__all__ = [
    "ArchSpec",
    "BarPart",
    "Form",
    "Link",
    "Movement",
    "SlidePart",
    "StudPart",
    "ToothPart",
    "make_random_spec",
    "make_spec",
]


class Form(StrEnum):
    """What stands at a place."""

    NATURAL = "natural"
    CROWN = "crown"
    PONTIC = "pontic"
    CONUS = "conus"
    IMPLANT_CROWN = "implant_crown"


@dataclass(frozen=True, slots=True)
class ToothPart:
    """One tooth or unit.

    Attributes
    ----------
    tooth : int
        ISO 3950 number.
    form : Form
    size : float
        Scale of all its measures against the published means.
    step_mm : float
        How far a crown's edge stands out over the root.
    collar_mm : float
        Width of the metal collar; zero for a butt edge.
    below_gum_facial_mm, below_gum_lingual_mm : float
        Depth of the crown's edge under the gum; negative when it is visible.
    taper_rad, height_mm : float
        Wall angle and height of a conus coping.
    lean_rad : tuple of float
        Turn of a conus's axis about x and y of the patient, from the occlusal direction.
    """

    tooth: int
    form: Form = Form.NATURAL
    size: float = 1.0
    step_mm: float = 0.2
    collar_mm: float = 0.0
    below_gum_facial_mm: float = -0.7
    below_gum_lingual_mm: float = -0.7
    taper_rad: float = 0.1047
    height_mm: float = 4.5
    lean_rad: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Link:
    """Solder joint or bridge connector between two neighbors."""

    first: int
    second: int
    radius_mm: float = 1.5


@dataclass(frozen=True, slots=True)
class BarPart:
    """A bar from one unit to another, with a gap to the ridge under it."""

    first: int
    second: int
    length_mm: float
    ridge_gap_mm: float
    radius_mm: float = 1.1
    bow_mm: float = 1.4
    """How far its middle lies to the face of the straight line."""


@dataclass(frozen=True, slots=True)
class SlidePart:
    """A box with an upright slot on the mesial or distal side of a unit."""

    tooth: int
    surface: Surface = Surface.DISTAL
    length_mm: float = 5.0
    width_mm: float = 3.2
    depth_mm: float = 2.4
    slot_mm: float = 1.4
    lean_rad: tuple[float, float] = (0.0, 0.0)
    """Turn of the slot's axis about x and y of the patient, from the occlusal direction."""


@dataclass(frozen=True, slots=True)
class StudPart:
    """A round-headed stud on an arm, on the mesial or distal side of a unit."""

    tooth: int
    surface: Surface = Surface.DISTAL
    reach_mm: float = 2.6
    height_mm: float = 3.2
    radius_mm: float = 0.85
    head_mm: float = 1.15


@dataclass(frozen=True, slots=True)
class Movement:
    """Rigid movement of a unit in the patient frame: a turn about a point, then a shift."""

    shift_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)
    turn_rad: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """Rotation vector."""
    about_mm: tuple[float, float, float] | None = None
    """The unit's own middle when None."""


@dataclass(frozen=True, slots=True)
class ArchSpec:
    """An arch to be generated; patient frame LPS (x left, y to the back, z up), occlusal plane near z = 0.

    Attributes
    ----------
    arch : Arch
    teeth : tuple of ToothPart
        What stands; every place of the sixteen that is not named is a saddle.
    links, bars, slides, studs : tuples of parts
    width_scale, depth_scale : float
        Plan of the arch against the nominal one.
    saddle_drop_mm : float
        How far a saddle lies under the gum line that its tooth would have.
    """

    arch: Arch
    teeth: tuple[ToothPart, ...]
    links: tuple[Link, ...] = ()
    bars: tuple[BarPart, ...] = ()
    slides: tuple[SlidePart, ...] = ()
    studs: tuple[StudPart, ...] = ()
    width_scale: float = 1.0
    depth_scale: float = 1.0
    saddle_drop_mm: float = 3.0
    pad_mm: float = 2.0

    def __post_init__(self) -> None:
        places = nominal_layout(self.arch)
        numbers = [part.tooth for part in self.teeth]
        unknown = sorted(set(numbers) - set(places))
        if unknown or len(set(numbers)) < len(numbers):
            raise ValueOutOfRange(f"teeth of a {self.arch} must be its own, each once; got {numbers}")

    def part_at(self, tooth: int) -> ToothPart | None:
        """Return what stands at a place; None for a saddle."""
        return next((part for part in self.teeth if part.tooth == tooth), None)


def make_spec(arch: Arch, *, missing: tuple[int, ...] = (), third_molars: bool = False) -> ArchSpec:
    """Build a natural arch without the missing teeth (third molars absent unless asked for)."""
    present = [t for t in nominal_layout(arch) if t not in missing and (third_molars or t % 10 < 8)]
    return ArchSpec(arch=arch, teeth=tuple(ToothPart(t) for t in present))


def make_random_spec(arch: Arch, rng: np.random.Generator, *, n_missing: int = 0, variation: float = 0.04) -> ArchSpec:
    """Build a natural or partial arch with proportions varied by the given relative standard deviation."""
    present = [t for t in nominal_layout(arch) if t % 10 < 8]
    gone = set(rng.choice(present, size=n_missing, replace=False).tolist()) if n_missing else set()
    one = float(np.clip(1 + variation * rng.standard_normal(), 0.85, 1.15))
    deep = float(np.clip(1 + variation * rng.standard_normal(), 0.85, 1.15))
    sizes = np.clip(1 + 0.5 * variation * rng.standard_normal(len(present)), 0.85, 1.15)
    crowned = rng.random(len(present)) < 0.4
    teeth = tuple(
        ToothPart(t, form=Form.CROWN if crown else Form.NATURAL, size=float(s * min(one, deep)))
        for t, s, crown in zip(present, sizes, crowned, strict=True)
        if t not in gone
    )
    return ArchSpec(arch=arch, teeth=teeth, width_scale=one, depth_scale=deep)
