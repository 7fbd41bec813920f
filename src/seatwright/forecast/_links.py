"""The links of the chain, in the order of the job: what each is, in plain words, and which records it rests on."""

from dataclasses import dataclass

from seatwright.evidence import Confidence, find_evidence

__all__ = ["LINKS", "Link", "find_link", "list_poorly_known"]


@dataclass(frozen=True, slots=True)
class Link:
    """One link of the chain."""

    id: str
    title: str
    words: str
    """What it does, in words for the bench."""
    evidence: tuple[str, ...]

    @property
    def how_good(self) -> str:
        """How good the evidence is: the worst confidence of its records."""
        order = list(Confidence)
        return max((find_evidence(e).confidence for e in self.evidence), key=order.index, default=Confidence.HIGH).value


LINKS = (
    Link("pick_up", "Place of each unit in the impression", "each crown settles in the impression a little off",
         ("fc_position_elastomer", "fc_position_alginate", "fc_position_transfer", "fc_position_stock_tray")),
    Link("index", "Place of each unit on the index", "units are corrected to a rigid index made in the mouth",
         ("fc_index_mouth",)),
    Link("whole_cast_scale", "Size of the cast", "the cast as a whole comes out smaller across the arch",
         ("fc_cast_scale_elastomer",)),
    Link("impression", "Change of the impression", "the impression shrinks or swells until it is poured",
         ("fc_scale_alginate_fresh", "fc_scale_alginate_extended", "fc_scale_other_elastomer")),
    Link("die", "Play of the crowns on their dies", "a crown goes back on its die a little differently each time",
         ("fc_die_bound", "fc_die_epoxy", "fc_die_mask_wax", "fc_die_stone", "fc_die_analog",
          "die_gibbs_lcgel_lin", "die_gibbs_auto_a_lin")),
    Link("stone", "Expansion of the stone", "stone grows while it sets",
         ("fc_stone_type_3", "fc_stone_type_4", "fc_stone_type_5")),
    Link("stone_late", "Late use of the cast", "stone goes on growing for days", ("fc_stone_late",)),
    Link("cast_check", "What the cast check left open", "the units' places as measured on the cast", ()),
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
    Link("drift", "Drift while the crowns are away", "abutments wander under provisionals", ("fc_drift",)),
    Link("play", "Play of uncemented crowns and of teeth", "crowns and teeth give way and take errors up",
         ("fc_play_cement", "fc_play_mobility", "fc_play_axial", "fc_play_implant", "fc_stud_give")),
)  # fmt: skip


def find_link(identifier: str) -> Link:
    """Return a link by id; KeyError is a mistake of ours."""
    for link in LINKS:
        if link.id == identifier:
            return link
    raise KeyError(identifier)


def list_poorly_known() -> tuple[str, ...]:
    """Return the evidence ids with a range and low confidence: nothing measured pins them."""
    ids = {e for link in LINKS for e in link.evidence}
    records = (find_evidence(e) for e in sorted(ids))
    return tuple(r.id for r in records if r.confidence is Confidence.LOW and r.low is not None and r.value is not None)
