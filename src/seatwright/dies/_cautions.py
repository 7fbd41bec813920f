"""Cautions and warnings in the words of the bench, each said at the step it concerns."""

__all__ = [
    "BLUE_LIGHT",
    "CYANOACRYLATE",
    "CYANOACRYLATE_HARM",
    "DRY_FIRST",
    "FLAME",
    "LIFT_ONCE",
    "LUBRICANT",
    "MAKER",
    "MATRIX",
    "METHACRYLATE",
    "NO_ACCELERATOR",
    "NO_OVEN",
    "NUMBER",
    "SEPARATOR",
    "SOFT_TISSUE",
    "TREATED",
    "TREATED_TACK",
    "WAX_HEAT",
]

MAKER = "The manufacturer's instructions prevail."
METHACRYLATE = "Methacrylate sensitizes skin and airway: gloves, extraction, no touching of uncured resin."
BLUE_LIGHT = "Blue light harms the eye: shield or glasses, look away."
FLAME = "No open flame near monomer or the impression: electric waxer."
NO_OVEN = "Hand-held light only: never a light or heat oven while resin is in a hydrocolloid impression."
NO_ACCELERATOR = "No accelerator spray in a moist alginate."
LUBRICANT = "Lubricate first: unlubricated pattern resin locks in the crown."
SEPARATOR = "Separator thin and even; blow out no pool, leave no bare spot."
TREATED = "The inside is treated: without separator the resin bonds and the crown is lost."
SOFT_TISSUE = "Edge deep below the gum: cut all flash inside; soft-tissue mask before the pour."
TREATED_TACK = "The inside is treated: separator first, or even a trace holds the die for good."
CYANOACRYLATE = "Dry crown; a trace at the tip only; close within 10 s; too much and the die never comes out."
CYANOACRYLATE_HARM = "Cyanoacrylate bonds skin and irritates the airway: gloves, extraction."
DRY_FIRST = "Pellets, never an air jet: it lifts crowns and dries the impression."
WAX_HEAT = (
    "Wax melts in hot agar, boil-out and 70 to 100 °C curing: silicone duplication and pressure-pot or matrix resin, "
    "or process on a duplicate."
)
MATRIX = "Attachment here: its opening must be plugged; resin or stone in it ruins the attachment."
LIFT_ONCE = "Lift the crown once, along its axis, and log it; never pry."
NUMBER = "Every die carries its tooth number."
