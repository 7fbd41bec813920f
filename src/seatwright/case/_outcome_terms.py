"""The words for what was used on a case and what came of it. Values are what stands in ``log.jsonl``."""

from enum import StrEnum

__all__ = ["FINAL_OUTCOMES", "MaterialRole", "Outcome"]


class MaterialRole(StrEnum):
    """What a material was used for."""

    IMPRESSION = "impression"
    DIE = "die"
    """What the dies themselves are made of."""
    SEPARATOR = "separator"
    ADHESIVE = "adhesive"
    BLOCK_OUT = "block_out"
    POUR = "pour"
    FRAMEWORK = "framework"
    BASE = "base"
    """Denture base and its processing."""
    TEETH = "teeth"
    CEMENT = "cement"
    RELINE = "reline"
    OTHER = "other"


class Outcome(StrEnum):
    """What came of the work, as seen at the bench, at insertion or at review."""

    SEATED = "seated"
    """The partial went to place; nothing was ground for it."""
    SEATED_ADJUSTED = "seated_adjusted"
    """It went to place after adjustment."""
    NOT_SEATED = "not_seated"
    REMADE = "remade"
    """Made again, in whole or the units named."""
    MARGIN_CHIPPED = "margin_chipped"
    DIE_STUCK = "die_stuck"
    """A crown could not be lifted off its die unharmed."""
    DIE_BROKEN = "die_broken"
    CAST_BROKEN = "cast_broken"
    ATTACHMENT_WORN = "attachment_worn"
    CAME_LOOSE = "came_loose"
    """A crown or retainer lost its cement."""
    FRACTURED = "fractured"
    RELINED = "relined"
    IN_FUNCTION = "in_function"
    """Seen at review, nothing wrong."""
    GIVEN_UP = "given_up"
    """The case ends without a partial."""


FINAL_OUTCOMES = frozenset({Outcome.SEATED, Outcome.SEATED_ADJUSTED, Outcome.GIVEN_UP})
"""Outcomes that end the work at the bench, until another impression leaves the mouth."""
