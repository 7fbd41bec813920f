"""The links of the chain, in the order of the job: what each is, in plain words, and which records it rests on."""

from dataclasses import dataclass

__all__ = ["LINKS", "Link", "find_link"]


@dataclass(frozen=True, slots=True)
class Link:
    """One link of the chain."""

    id: str
    title: str
    words: str
    """What it does, in words for the bench."""
    evidence: tuple[str, ...]
    per_unit: bool = False
    """Whether each unit of a pour has an error of its own, which may be correlated with its neighbor's."""


LINKS = (
    Link("pick_up", "Place of each unit in the impression", "each crown settles in the impression a little off",
         ("fc_position_elastomer", "fc_position_alginate", "fc_position_transfer", "fc_position_natural",
          "fc_position_stock_tray", "fc_position_no_adhesive"), per_unit=True),
    Link("index", "Place of each unit on the index", "units are corrected to a rigid index made in the mouth",
         ("fc_index_mouth",), per_unit=True),
    Link("whole_cast_scale", "Size of the cast", "the cast as a whole comes out smaller across the arch",
         ("fc_cast_scale_elastomer",)),
    Link("impression", "Change of the impression", "the impression shrinks or swells until it is poured",
         ("fc_scale_alginate_fresh", "fc_scale_alginate_extended", "fc_scale_other_elastomer")),
    Link("die", "Play of the crowns on their dies", "a crown goes back on its die a little differently each time",
         ("fc_die_bound", "fc_die_epoxy", "fc_die_mask_wax", "fc_die_stone", "fc_die_analog",
          "die_gibbs_lcgel_lin", "die_gibbs_auto_a_lin"), per_unit=True),
    Link("stone", "Expansion of the stone", "stone grows while it sets",
         ("fc_stone_type_3", "fc_stone_type_4", "fc_stone_type_5")),
    Link("stone_late", "Late use of the cast", "stone goes on growing for days", ("fc_stone_late",)),
    Link("framework", "Pattern, casting and finishing", "the framework comes off its cast a little out of shape",
         ("fc_framework_axial", "fc_framework_side", "fc_framework_additive", "fc_framework_lever")),
    Link("male_soldered", "Soldered joint of a male", "the joint pulls while it cools",
         ("fc_join_soldered", "fc_join_lever")),
    Link("male_luted", "Male luted on the cast", "the resin at the male pulls while it hardens",
         ("fc_join_luted", "fc_join_lever")),
    Link("male_in_mouth", "Male picked up in the mouth", "the resin at the male pulls while it hardens in the mouth",
         ("fc_join_mouth", "fc_join_lever")),
    Link("processing", "Processing of the base resin", "the base pulls on the framework while it shrinks",
         ("fc_processing", "fc_framework_lever")),
    Link("drift", "Drift while the crowns are away", "abutments wander under provisionals", ("fc_drift",),
         per_unit=True),
    Link("play", "Play of uncemented crowns and of teeth", "crowns and teeth give way and take errors up",
         ("fc_play_cement", "fc_play_mobility", "fc_play_axial", "fc_play_implant", "fc_stud_give", "fc_rest_gap",
          "fc_clasp_depth", "fc_clasp_height")),
)  # fmt: skip


def find_link(identifier: str) -> Link:
    """Return a link by id; KeyError is a mistake of ours."""
    for link in LINKS:
        if link.id == identifier:
            return link
    raise KeyError(identifier)
