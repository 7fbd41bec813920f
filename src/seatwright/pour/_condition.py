"""What is wrong with an impression: heat, cold, air, fluid, damp, missing crowns, no disinfection.

Owns the verdicts on how it was kept and counted. Knows no people and no powder.
"""

from dataclasses import dataclass

from seatwright.case import Impression, ImpressionMaterial, ImpressionRole, ImpressionState, Storage, Tray
from seatwright.evidence import Confidence, find_evidence, source_of
from seatwright.findings import Finding, Severity
from seatwright.pour._result import Band, ImpressionPhase
from seatwright.pour._rows import minutes_of
from seatwright.pour._windows import History, Judged, temperature_band

__all__ = ["Look", "check_crowns", "check_storage", "spoken"]

_BARE = (Storage.OPEN_AIR, Storage.DRY)
_DAMP = (Storage.DAMP_WRAP, Storage.HUMID_BOX, Storage.IMMERSED)


@dataclass(frozen=True, slots=True)
class Look:
    """One impression as it is looked at: at `minute` since the mouth, which is now or when it was poured."""

    impression: Impression
    state: ImpressionState
    phase: ImpressionPhase
    history: History
    minute: float
    judged: Judged

    @property
    def is_waiting(self) -> bool:
        """Whether it is out of the mouth and not poured."""
        return self.phase is ImpressionPhase.WAITING

    def give_up(self) -> tuple[Severity, str]:
        """Return how grave a spoiled impression is at this phase, and what to do."""
        if not self.is_waiting:
            return Severity.WARNING, "Do not trust this cast: verify it in the mouth or on an index before metal."
        if self.impression.role is ImpressionRole.PICK_UP:
            return Severity.STOP, "Do not pour. Seat the crowns again and take a new impression, patient still here."
        return Severity.STOP, "Take a new impression while the patient is here; do not pour this one."

    def say(
        self, identifier: str, severity: Severity, what: str, *, why: str = "", do: str = "", of: str = ""
    ) -> Finding:
        """Return a finding about this impression; `of` is an evidence id, common practice without one."""
        if not of:
            return Finding(identifier, severity, what, why, do, about=self.impression.id)
        return Finding(identifier, severity, what, why, do, source_of(of), self.impression.id)


def check_storage(look: Look) -> list[Finding]:
    """Return what is wrong with how the impression was kept up to the pour, or up to now."""
    found = [*_temperature(look), *_window(look)]
    if look.history.material.is_hydrocolloid:
        found += [*_open_air(look), *_immersion(look)]
    else:
        found += _damp(look)
    if look.is_waiting and look.state.disinfected_at is None:
        do = "Rinse, spray, bag for the maker's contact time, before anybody works on it."
        found.append(look.say("not-disinfected", Severity.WARNING, "Not disinfected.", why="It carries saliva.", do=do))
    if (
        look.is_waiting
        and look.impression.role is ImpressionRole.PICK_UP
        and look.impression.tray is Tray.FLEXIBLE_STOCK
    ):
        what = "A flexible tray holds a pick-up: its misfit doubled in a test with implant analogs (23 against 11 µm)."
        do = "Do not press the tray; verify the cast."
        found.append(look.say("tray-flexible", Severity.CAUTION, what, do=do, of="xfer_rigid_stock"))
    return found


def _temperature(look: Look) -> list[Finding]:
    seen = [t for at, t in look.history.temperatures if at <= look.minute]
    found = []
    for temperature in {max(seen), min(seen)} if seen else set():
        band, evidence, rule = temperature_band(look.history.material, temperature)
        if band is Band.WITHIN:
            continue
        untested = find_evidence(evidence).confidence is Confidence.LOW
        why = "This material was never tested there: a choice, not a finding." if untested else "No size is known."
        if band is Band.BEYOND:
            severity, do = look.give_up()
            what = f"It saw {temperature:g} °C: {'frozen' if rule == 'freezing' else 'too hot'}, give it up."
        else:
            severity, do = Severity.WARNING, "Verify the cast across the arch before metal, or take a new impression."
            known = "colder" if rule == "freezing" else "warmer"
            what = f"It saw {temperature:g} °C: {known} than this material is known to bear."
        found.append(look.say(f"impression-{rule}", severity, what, why=why, do=do, of=evidence))
    return found


def _window(look: Look) -> list[Finding]:
    """Say when age itself has left the window; added minutes and temperature have findings of their own."""
    band, rule = look.judged.rung.band, look.judged.rule
    if band is Band.WITHIN or rule in ("heat", "freezing") or rule.endswith(("open-air", "immersed", "damp")):
        return []
    age = f"{spoken(look.judged.minutes)} after the mouth"
    why = look.judged.rung.how_good
    if band is Band.BEYOND:
        severity, do = look.give_up()
        what = f"Too old: {age}, no source supports it ({rule})."
        return [Finding("window-beyond", severity, what, why, do, look.judged.rung.source, look.impression.id)]
    is_pick_up = look.impression.role is ImpressionRole.PICK_UP
    what = f"Past the strict window: {age}, at a stated cost ({rule})."
    do = "Verify the cast across the arch before metal."
    if look.is_waiting:
        do = f"{'Finish the dies, then pour' if is_pick_up else 'Pour now'}. {do}"
    severity = Severity.WARNING if is_pick_up else Severity.CAUTION
    return [Finding("window-stretched", severity, what, why, do, look.judged.rung.source, look.impression.id)]


def _open_air(look: Look) -> list[Finding]:
    found = []
    limit = minutes_of("clock_alg_open")
    bare = look.history.minutes_in(_BARE, look.minute)
    dry = look.history.minutes_in((Storage.DRY,), look.minute)
    why = "Alginate loses water from the first minute; no curve for open air is known."
    if bare > limit:
        severity, do = look.give_up()
        what = f"Left uncovered for {spoken(bare)}: past {limit:g} min, give it up."
        found.append(look.say("open-air", severity, what, why=why, do=do, of="clock_alg_open"))
    elif look.is_waiting and look.history.storage_at(look.minute) in _BARE:
        what = f"Uncovered: {_whole(limit - bare)} of {limit:g} min left. Wrap it now."
        do = "Damp tissue and a closed bag, or the humid box. Only the crown in hand is uncovered."
        found.append(look.say("wrap-it", Severity.CAUTION, what, why=why, do=do, of="clock_alg_open"))
    if dry > 0 and bare <= limit:
        what = f"Alginate kept dry for {spoken(dry)}: counted as open air."
        found.append(
            look.say("hydrocolloid-dry", Severity.WARNING, what, why=why, do="Wrap it now.", of="clock_alg_open")
        )
    return found


def _immersion(look: Look) -> list[Finding]:
    limit = minutes_of("clock_alg_immersed")
    lying = look.history.minutes_in((Storage.IMMERSED,), look.minute)
    told = look.history.immersion
    minutes = max(lying, told[1] if told and told[0] <= look.minute else 0.0)
    if minutes > limit:
        severity, do = look.give_up()
        what = f"In a fluid for {spoken(minutes)}: past {limit:g} min, give it up."
        why = "It takes up water or loses salts; 20 min changed it significantly."
        return [look.say("immersed-too-long", severity, what, why=why, do=do, of="alg_disinf_10min")]
    if minutes > 0:
        what = f"In a fluid for {spoken(minutes)}: one study saw a change at {minutes_of('alg_disinf_spray'):g} min."
        do = "Spray the next one."
        return [look.say("immersed", Severity.CAUTION, what, do=do, of="alg_disinf_spray")]
    return []


def _damp(look: Look) -> list[Finding]:
    """Say when polyether was damp, or is in a bag that is damp after disinfection."""
    if look.history.material is not ImpressionMaterial.POLYETHER:
        return []
    limit = minutes_of("clock_pe_damp")
    damp = look.history.minutes_in(_DAMP, look.minute)
    why = "Polyether takes up water and swells; no number is known."
    if damp > limit:
        severity, do = look.give_up()
        what = f"Polyether damp for {spoken(damp)}: past {limit:g} min."
        return [look.say("polyether-damp", severity, what, why=why, do=do, of="clock_pe_damp")]
    here = look.history.storage_at(look.minute)
    if look.is_waiting and here in (*_DAMP, Storage.SEALED_BAG):
        what = "Polyether in damp or in a closed bag: take it out and dry it."
        return [
            look.say("polyether-dry-it", Severity.CAUTION, what, why=why, do="Keep it dry and apart from alginate.")
        ]
    return []


def check_crowns(look: Look) -> list[Finding]:
    """Return what is wrong with the count of crowns; the airway comes first."""
    if look.impression.role is not ImpressionRole.PICK_UP:
        return []
    state = look.state
    if not state.counted:
        what = f"Crowns not counted: {len(look.impression.lifts)} are planned in this impression."
        do = "Count seated, in the tray, loose, left on a tooth, before the patient leaves the chair."
        severity = Severity.STOP if look.is_waiting else Severity.WARNING
        return [look.say("crowns-not-counted", severity, what, why="A lost crown may be in the airway.", do=do)]
    found = [*_missing(look), *_left_or_loose(look)]
    planned = frozenset(look.impression.lifts)
    if planned - state.seated:
        what = f"Planned but not counted as seated: {_teeth(planned - state.seated)}."
        found.append(
            look.say("crowns-not-seated", Severity.WARNING, what, do="Seat them and count again, or change the plan.")
        )
    if state.seated - planned:
        what = f"Seated but not planned: {_teeth(state.seated - planned)}."
        found.append(look.say("crowns-unplanned", Severity.CAUTION, what, do="Mend the plan or the count."))
    return found


def _missing(look: Look) -> list[Finding]:
    state, found = look.state, list[Finding]()
    missing = state.seated - state.in_tray - state.left_on_tooth
    if missing:
        what = f"Crown missing: {_teeth(missing)}. Seated before, neither in the tray nor on the tooth."
        do = "Airway first: sit the patient up and look. Not found: the patient does not leave without a radiograph."
        found.append(look.say("crown-missing", Severity.STOP, what, why="It may be swallowed or inhaled.", do=do))
    extra = state.in_tray - state.seated
    both = state.in_tray & state.left_on_tooth
    if extra or both:
        what = f"The count does not agree: {_teeth(extra | both)}."
        found.append(look.say("crown-count-differs", Severity.WARNING, what, do="Count again."))
    return found


def _left_or_loose(look: Look) -> list[Finding]:
    wet = look.impression.material.is_hydrocolloid
    found = []
    for teeth, identifier, words in (
        (look.state.left_on_tooth, "crown-left-on-tooth", "left on its tooth"),
        (look.state.loose, "crown-loose", "loose in the impression"),
    ):
        if not teeth:
            continue
        what = f"{_teeth(teeth)} {words}."
        if wet:
            severity, do = look.give_up()
            why = "A crown is never pushed back into alginate."
        else:
            severity = Severity.STOP if look.is_waiting else Severity.WARNING
            why = "Its place in the impression is not known until it seats positively."
            do = "Seat it with a positive stop and verify, or take a new impression. Until then do not pour."
            do = do if look.is_waiting else "Verify this unit on the cast before metal."
        found.append(look.say(identifier, severity, what, why=why, do=do))
    return found


def _teeth(teeth: frozenset[int]) -> str:
    return ", ".join(str(tooth) for tooth in sorted(teeth))


def spoken(minutes: float) -> str:
    """Return a time as a person says it: minutes to three hours, then hours to three days, then days.

    Examples
    --------
    >>> spoken(10.4), spoken(14.0), spoken(1415.0), spoken(10080.0)
    ('10.4 min', '14 min', '23.6 h', '7 d')
    """
    hours = minutes / 60
    if hours <= 3:
        return f"{minutes:.1f}".removesuffix(".0") + " min"
    if hours < 72:
        return f"{hours:.1f}".removesuffix(".0") + " h"
    return f"{hours / 24:.1f}".removesuffix(".0") + " d"


def _whole(minutes: float) -> int:
    """Whole minutes left, rounded down: a clock that is read in a hurry never promises more than there is."""
    return max(int(minutes), 0)
