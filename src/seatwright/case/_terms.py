"""The words a case is written in. Values are what stands in ``case.toml``."""

from enum import StrEnum

__all__ = [
    "Arch",
    "AttachmentKind",
    "Body",
    "ClaspAlloy",
    "ClaspApproach",
    "ClaspForm",
    "CoreKind",
    "ImpressionMaterial",
    "ImpressionRole",
    "Intaglio",
    "InternalFeatureKind",
    "JoinKind",
    "LengthUnit",
    "MaleJoin",
    "MarginKind",
    "Motion",
    "RestKind",
    "Route",
    "ScanOf",
    "ScanRole",
    "Seating",
    "Skill",
    "Stone",
    "Storage",
    "Surface",
    "Tray",
    "UnitKind",
    "Veneer",
]


class Arch(StrEnum):
    """Which jaw."""

    MAXILLA = "maxilla"
    MANDIBLE = "mandible"


class Surface(StrEnum):
    """Side of a crown; facial is buccal or labial, lingual includes palatal."""

    FACIAL = "facial"
    MESIAL = "mesial"
    LINGUAL = "lingual"
    DISTAL = "distal"


class UnitKind(StrEnum):
    """What a fixed unit is."""

    CROWN = "crown"
    """On a prepared tooth, single or as a retainer of a bridge."""
    PONTIC = "pontic"
    PRIMARY_TELESCOPE = "primary_telescope"
    """Inner crown with parallel friction walls, 0 to 2 degrees."""
    PRIMARY_CONUS = "primary_conus"
    """Inner crown with a conical wall, 4 to 6 degrees."""
    IMPLANT_SCREWED = "implant_screwed"
    """Screw-retained crown on an implant."""
    ON_ABUTMENT = "on_abutment"
    """Crown that sits on an implant abutment."""


class Body(StrEnum):
    """What the unit's structure is made of."""

    NOBLE_ALLOY = "noble_alloy"
    BASE_METAL_ALLOY = "base_metal_alloy"
    ZIRCONIA = "zirconia"
    GLASS_CERAMIC = "glass_ceramic"


class Veneer(StrEnum):
    """What covers the structure."""

    NONE = "none"
    FELDSPATHIC = "feldspathic"
    COMPOSITE = "composite"


class MarginKind(StrEnum):
    """What the crown's edge is made of at one surface."""

    METAL_COLLAR = "metal_collar"
    METAL_KNIFE_EDGE = "metal_knife_edge"
    CERAMIC_BUTT = "ceramic_butt"
    """Feldspathic porcelain to the edge, no metal under it."""
    GLASS_CERAMIC = "glass_ceramic"
    ZIRCONIA = "zirconia"
    ZIRCONIA_VENEERED = "zirconia_veneered"
    """Zirconia whose veneer reaches the edge: treated as a ceramic butt."""


class Intaglio(StrEnum):
    """How the inside of the crown was treated."""

    CLEAN = "clean"
    PRIMED = "primed"
    ETCHED = "etched"
    RESIN_LINED = "resin_lined"


class InternalFeatureKind(StrEnum):
    """A feature inside the crown that a die could lock into."""

    GROOVE = "groove"
    BOX = "box"
    PINHOLE = "pinhole"
    UNDERCUT = "undercut"


class CoreKind(StrEnum):
    """What stands under the crown."""

    TOOTH = "tooth"
    POST_AND_CORE = "post_and_core"
    BUILD_UP = "build_up"


class JoinKind(StrEnum):
    """How units are joined into one body."""

    BRIDGE = "bridge"
    SPLINT = "splint"


class AttachmentKind(StrEnum):
    """What holds the partial to a fixed unit."""

    SLIDE = "slide"
    STUD = "stud"
    BAR_CLIP = "bar_clip"
    CONUS = "conus"
    TELESCOPE = "telescope"


class Motion(StrEnum):
    """Whether the attachment lets the partial move under load."""

    RIGID = "rigid"
    RESILIENT = "resilient"


class MaleJoin(StrEnum):
    """How the male part is joined to the partial; decides which errors reach it."""

    CAST_ON = "cast_on"
    SOLDERED = "soldered"
    LUTED_ON_CAST = "luted_on_cast"
    PICKED_UP_IN_MOUTH = "picked_up_in_mouth"


class RestKind(StrEnum):
    """Where a rest sits on its tooth."""

    OCCLUSAL = "occlusal"
    CINGULUM = "cingulum"
    INCISAL = "incisal"


class ClaspApproach(StrEnum):
    """From which side of the survey line the retentive arm comes."""

    SUPRABULGE = "suprabulge"
    """From above the survey line, around the crown."""
    INFRABULGE = "infrabulge"
    """From the gum, under the survey line."""


class ClaspForm(StrEnum):
    """How the retentive arm is made."""

    CAST = "cast"
    WROUGHT = "wrought"


class ClaspAlloy(StrEnum):
    """Alloy of the retentive arm."""

    COBALT_CHROMIUM = "cobalt_chromium"
    GOLD = "gold"
    TITANIUM = "titanium"
    STAINLESS_STEEL = "stainless_steel"


class ImpressionRole(StrEnum):
    """What the impression is for."""

    PICK_UP = "pick_up"
    OPPOSING = "opposing"
    RELINE = "reline"


class Route(StrEnum):
    """How the finished crowns leave the mouth."""

    OVERALL = "overall"
    TRANSFER_BASE = "transfer_base"
    PLANNED_RELINE = "planned_reline"


class ImpressionMaterial(StrEnum):
    """Class of impression material."""

    ALGINATE = "alginate"
    """Conventional irreversible hydrocolloid."""
    EXTENDED_ALGINATE = "extended_alginate"
    """Extended-pour irreversible hydrocolloid."""
    ADDITION_SILICONE = "addition_silicone"
    POLYETHER = "polyether"
    POLYSULFIDE = "polysulfide"
    CONDENSATION_SILICONE = "condensation_silicone"

    @property
    def is_hydrocolloid(self) -> bool:
        """Whether it is an irreversible hydrocolloid: wet, unstable, ruined by heat."""
        return self in (ImpressionMaterial.ALGINATE, ImpressionMaterial.EXTENDED_ALGINATE)


class Tray(StrEnum):
    """Impression tray."""

    RIGID_CUSTOM = "rigid_custom"
    RIGID_STOCK = "rigid_stock"
    FLEXIBLE_STOCK = "flexible_stock"


class Storage(StrEnum):
    """How an impression is kept between mouth and pour."""

    OPEN_AIR = "open_air"
    DAMP_WRAP = "damp_wrap"
    """Wrapped in damp tissue inside a closed bag."""
    SEALED_BAG = "sealed_bag"
    HUMID_BOX = "humid_box"
    """About 100 % relative humidity, not touching water."""
    IMMERSED = "immersed"
    DRY = "dry"
    """Dry at room temperature, as elastomers are kept."""


class Stone(StrEnum):
    """Gypsum product by type number of ISO 6873."""

    TYPE_3 = "type_3"
    TYPE_4 = "type_4"
    TYPE_5 = "type_5"


class ScanRole(StrEnum):
    """What a scan serves as."""

    REFERENCE = "reference"
    """Where the units belong: mouth, verified cast or index."""
    POURED = "poured"
    OPPOSING = "opposing"


class ScanOf(StrEnum):
    """What was scanned."""

    MOUTH = "mouth"
    VERIFIED_CAST = "verified_cast"
    POURED_CAST = "poured_cast"
    INDEX = "index"


class LengthUnit(StrEnum):
    """Length unit of a scan file; STL, PLY and OBJ carry none."""

    MICROMETRE = "um"
    MILLIMETRE = "mm"
    CENTIMETRE = "cm"
    METRE = "m"
    INCH = "in"


class Seating(StrEnum):
    """How a returned die goes into its crown."""

    FREELY = "freely"
    WITH_FORCE = "with_force"
    SHORT = "short"


class Skill(StrEnum):
    """What a person may do on the day."""

    DISINFECT = "disinfect"
    COUNT = "count"
    DIES = "dies"
    MASK = "mask"
    MIX = "mix"
    POUR = "pour"
    SEPARATE = "separate"
