"""The case document: all that stands in ``case.toml``."""

from pydantic import Field

from seatwright.case._impressions import HandReadings, Impression, Region, ReturnedDie, Scan, Tolerance
from seatwright.case._partial import Clasp, GuidePlane, ReliefArea, Rest
from seatwright.case._terms import Arch, ImpressionRole
from seatwright.case._units import Attachment, Bar, Document, Join, Moment, Teeth, Text, Tooth, Unit

__all__ = ["SCHEMA_VERSION", "Case"]

SCHEMA_VERSION = 1
"""Version of the case document; older ones are upgraded, newer ones refused."""


class Case(Document):
    """One case as planned and delivered to the bench.

    What happened to it stands in the log, never here.
    """

    schema_version: int = Field(alias="schema", ge=1)
    code: str = Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]{0,31}$")
    """Pseudonymous case code; never a name."""
    title: Text = ""
    arch: Arch
    as_of: Moment | None = None
    """Moment at which the case is looked at when no other is given; for stored examples."""
    teeth: Teeth
    unit: tuple[Unit, ...]
    join: tuple[Join, ...] = ()
    attachment: tuple[Attachment, ...] = ()
    bar: tuple[Bar, ...] = ()
    rest: tuple[Rest, ...] = ()
    clasp: tuple[Clasp, ...] = ()
    guide_plane: tuple[GuidePlane, ...] = ()
    relief: tuple[ReliefArea, ...] = ()
    impression: tuple[Impression, ...] = ()
    returned_die: tuple[ReturnedDie, ...] = ()
    scan: tuple[Scan, ...] = ()
    region: tuple[Region, ...] = ()
    by_hand: HandReadings | None = None
    """Readings by caliper and foil, where somebody took them."""
    tolerance: Tolerance

    def unit_at(self, tooth: Tooth) -> Unit:
        """Return the unit planned at a tooth; KeyError when there is none."""
        for unit in self.unit:
            if unit.tooth == tooth:
                return unit
        raise KeyError(tooth)

    def impression_by_id(self, impression_id: str) -> Impression:
        """Return an impression by its id; KeyError when there is none."""
        for impression in self.impression:
            if impression.id == impression_id:
                return impression
        raise KeyError(impression_id)

    def current_impressions(self) -> tuple[Impression, ...]:
        """Return the impressions that no later one replaces, in the order written."""
        replaced = {impression.replaces for impression in self.impression}
        return tuple(impression for impression in self.impression if impression.id not in replaced)

    def pick_up_of(self, tooth: Tooth) -> Impression | None:
        """Return the current pick-up impression that lifts a unit; None when no such impression is planned."""
        for impression in self.current_impressions():
            if impression.role is ImpressionRole.PICK_UP and tooth in impression.lifts:
                return impression
        return None

    def body_of(self, tooth: Tooth) -> tuple[Tooth, ...]:
        """Return all units rigidly joined to this one by joins and bars, itself included, nearest first."""
        links = [*(joined.units for joined in self.join), *((bar.from_tooth, bar.to_tooth) for bar in self.bar)]
        body = [tooth]
        for member in body:
            for link in links:
                if member in link:
                    body.extend(t for t in link if t not in body)
        return tuple(body)
