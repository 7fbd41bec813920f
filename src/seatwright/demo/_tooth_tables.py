"""Sizes and cusps of the teeth that the demo models.

Widths come from the arch room's layout; what it lacks (crown length, widths at the neck) stands here. Cusps are drawn
for looks: their places are textbook-like, not measured.
"""

from dataclasses import dataclass

from seatwright.case import Arch

__all__ = ["Cusp", "Kind", "ToothTable", "find_tooth_table"]


@dataclass(frozen=True, slots=True)
class Cusp:
    """A cusp tip and where its inner ridge runs.

    Places are fractions of half the crown's width: `mesial` and `facial` from the crown's center; `height` is a
    fraction of the crown length. `to_mesial`, `to_facial`: where the triangular ridge ends in the fossa.
    """

    mesial: float
    facial: float
    height: float
    to_mesial: float
    to_facial: float = 0.0


@dataclass(frozen=True, slots=True)
class Kind:
    """Form of a crown.

    Attributes
    ----------
    contact : float
        Height of the contact areas, fraction of the crown length.
    neck_to_tip_facial, neck_to_tip_lingual : tuple of (height, half-width)
        Profile: fractions of the crown length and of the buccolingual width.
    top_width : float
        Mesiodistal width at the top as a share of the largest.
    exponent : float
        Of the superellipse in plan: 2 is an ellipse, larger is squarer.
    narrowing : float
        How much narrower the lingual side is.
    ridge_mesial, ridge_distal : float
        Height of the marginal ridges; zero for none.
    groove : float
        Place of the facial groove, fraction of half the mesiodistal width; zero for none.
    slopes : tuple of float
        Fall of a cusp towards the fossa, to its sides, and outwards.
    tip_mm : float
        Radius-like bluntness of the cusp tips.
    edge_mm : float
        Rounding between wall and top.
    """

    contact: float
    neck_to_tip_facial: tuple[tuple[float, float], ...]
    neck_to_tip_lingual: tuple[tuple[float, float], ...]
    top_width: float
    exponent: float
    narrowing: float
    cusps: tuple[Cusp, ...] = ()
    ridge_mesial: float = 0.0
    ridge_distal: float = 0.0
    groove: float = 0.0
    slopes: tuple[float, float, float] = (0.55, 0.62, 0.2)
    tip_mm: float = 0.55
    edge_mm: float = 1.2


@dataclass(frozen=True, slots=True)
class ToothTable:
    """Mean sizes of one tooth, mm, and its form."""

    crown_mm: float
    neck_md_mm: float
    neck_bl_mm: float
    neck_curve_mm: float
    kind: Kind


_INCISOR = Kind(
    contact=0.86,
    neck_to_tip_facial=((0.15, 0.5), (0.45, 0.40), (0.75, 0.24), (1.0, 0.12)),
    neck_to_tip_lingual=((0.18, 0.5), (0.45, 0.33), (0.75, 0.14), (1.0, 0.06)),
    top_width=0.965,
    exponent=2.4,
    narrowing=0.10,
    edge_mm=0.35,
)
_CANINE = Kind(
    contact=0.70,
    neck_to_tip_facial=((0.2, 0.5), (0.5, 0.45), (0.8, 0.27), (1.0, 0.08)),
    neck_to_tip_lingual=((0.18, 0.5), (0.45, 0.38), (0.75, 0.22), (1.0, 0.10)),
    top_width=0.80,
    exponent=2.2,
    narrowing=0.14,
    cusps=(Cusp(0.06, 0.04, 1.0, 0.06, -0.9),),
    slopes=(1.0, 0.5, 0.2),
    tip_mm=0.35,
    edge_mm=0.6,
)
_LOWER_FIRST_PREMOLAR = Kind(
    contact=0.61,
    neck_to_tip_facial=((0.25, 0.5), (0.6, 0.41), (1.0, 0.15)),
    neck_to_tip_lingual=((0.45, 0.5), (0.7, 0.46), (1.0, 0.34)),
    top_width=0.82,
    exponent=2.25,
    narrowing=0.14,
    cusps=(Cusp(0.06, 0.26, 1.036, 0.02, -0.5), Cusp(0.02, -0.62, 0.76, 0.0, 0.0)),
    ridge_mesial=0.74,
    ridge_distal=0.73,
    slopes=(0.95, 0.58, 0.2),
    tip_mm=0.4,
    edge_mm=1.3,
)
_LOWER_SECOND_PREMOLAR = Kind(
    contact=0.61,
    neck_to_tip_facial=((0.25, 0.5), (0.6, 0.42), (1.0, 0.20)),
    neck_to_tip_lingual=((0.5, 0.5), (0.75, 0.45), (1.0, 0.30)),
    top_width=0.86,
    exponent=2.5,
    narrowing=0.06,
    cusps=(Cusp(0.05, 0.36, 1.034, 0.0, -0.1), Cusp(0.34, -0.56, 0.88, 0.05, 0.0), Cusp(-0.40, -0.56, 0.82, -0.1, 0.0)),
    ridge_mesial=0.80,
    ridge_distal=0.78,
    slopes=(0.72, 0.6, 0.2),
    tip_mm=0.4,
    edge_mm=1.3,
)
_LOWER_FIRST_MOLAR = Kind(
    contact=0.61,
    neck_to_tip_facial=((0.25, 0.5), (0.6, 0.44), (1.0, 0.26)),
    neck_to_tip_lingual=((0.5, 0.5), (0.75, 0.46), (1.0, 0.30)),
    top_width=0.90,
    exponent=3.0,
    narrowing=0.05,
    cusps=(
        Cusp(0.47, 0.46, 0.94, 0.25),
        Cusp(-0.14, 0.50, 0.92, -0.08),
        Cusp(-0.66, 0.30, 0.86, -0.35),
        Cusp(0.42, -0.52, 1.02, 0.2),
        Cusp(-0.38, -0.52, 0.98, -0.25),
    ),
    ridge_mesial=0.82,
    ridge_distal=0.78,
    groove=0.15,
)
_LOWER_SECOND_MOLAR = Kind(
    contact=0.61,
    neck_to_tip_facial=((0.25, 0.5), (0.6, 0.44), (1.0, 0.26)),
    neck_to_tip_lingual=((0.5, 0.5), (0.75, 0.46), (1.0, 0.30)),
    top_width=0.90,
    exponent=3.0,
    narrowing=0.05,
    cusps=(
        Cusp(0.42, 0.46, 0.94, 0.12),
        Cusp(-0.46, 0.46, 0.92, -0.12),
        Cusp(0.42, -0.52, 1.02, 0.12),
        Cusp(-0.44, -0.52, 0.97, -0.12),
    ),
    ridge_mesial=0.82,
    ridge_distal=0.78,
    groove=-0.02,
)
_UPPER_PREMOLAR = Kind(
    contact=0.61,
    neck_to_tip_facial=((0.25, 0.5), (0.6, 0.43), (1.0, 0.24)),
    neck_to_tip_lingual=((0.5, 0.5), (0.75, 0.44), (1.0, 0.27)),
    top_width=0.84,
    exponent=2.4,
    narrowing=0.10,
    cusps=(Cusp(0.0, 0.46, 1.037, 0.0), Cusp(0.10, -0.50, 0.93, 0.0)),
    ridge_mesial=0.80,
    ridge_distal=0.80,
    slopes=(0.72, 0.6, 0.2),
    tip_mm=0.4,
    edge_mm=1.3,
)
_UPPER_MOLAR = Kind(
    contact=0.61,
    neck_to_tip_facial=((0.25, 0.5), (0.6, 0.45), (1.0, 0.28)),
    neck_to_tip_lingual=((0.5, 0.5), (0.75, 0.46), (1.0, 0.28)),
    top_width=0.88,
    exponent=2.9,
    narrowing=-0.03,
    cusps=(
        Cusp(0.44, 0.52, 0.96, 0.30),
        Cusp(-0.44, 0.50, 0.93, -0.12, 0.0),
        Cusp(0.32, -0.40, 1.0, -0.10, 0.05),
        Cusp(-0.56, -0.56, 0.84, -0.45, -0.2),
    ),
    ridge_mesial=0.80,
    ridge_distal=0.78,
    groove=-0.02,
)

# Crown length, neck widths mesiodistal and buccolingual, rise of the neck line between teeth, mm: Wheeler's Dental
# Anatomy, Physiology and Occlusion, Table 1-1, from memory (evidence: tooth_crowns_wheeler); upper second premolar and
# first molar read in a printed extract.
_LOWER = (  # evidence: tooth_crowns_wheeler
    ToothTable(9.0, 3.5, 5.3, 3.0, _INCISOR),
    ToothTable(9.5, 4.0, 5.8, 3.0, _INCISOR),
    ToothTable(11.0, 5.5, 7.0, 2.5, _CANINE),
    ToothTable(8.5, 5.0, 6.5, 1.0, _LOWER_FIRST_PREMOLAR),
    ToothTable(8.0, 5.0, 7.0, 1.0, _LOWER_SECOND_PREMOLAR),
    ToothTable(7.5, 9.0, 9.0, 1.0, _LOWER_FIRST_MOLAR),
    ToothTable(7.0, 8.0, 9.0, 1.0, _LOWER_SECOND_MOLAR),
    ToothTable(7.0, 7.5, 9.0, 1.0, _LOWER_SECOND_MOLAR),
)
_UPPER = (  # evidence: tooth_crowns_wheeler
    ToothTable(10.5, 7.0, 6.0, 3.5, _INCISOR),
    ToothTable(9.0, 5.0, 5.0, 3.0, _INCISOR),
    ToothTable(10.0, 5.5, 7.0, 2.5, _CANINE),
    ToothTable(8.5, 5.0, 8.0, 1.0, _UPPER_PREMOLAR),
    ToothTable(8.5, 5.0, 8.0, 1.0, _UPPER_PREMOLAR),
    ToothTable(7.5, 8.0, 10.0, 1.0, _UPPER_MOLAR),
    ToothTable(7.0, 7.0, 10.0, 1.0, _UPPER_MOLAR),
    ToothTable(6.5, 6.5, 9.5, 1.0, _UPPER_MOLAR),
)


def find_tooth_table(arch: Arch, tooth: int) -> ToothTable:
    """Return mean sizes and form of a tooth, ISO 3950 number."""
    return (_UPPER if arch is Arch.MAXILLA else _LOWER)[tooth % 10 - 1]
