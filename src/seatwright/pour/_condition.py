"""What is wrong with an impression: heat, cold, air, fluid, damp, missing crowns, no disinfection.

Owns the verdicts on how it was kept and counted. Knows no people and no powder.
"""

from dataclasses import dataclass

from seatwright.case import Impression, ImpressionMaterial, ImpressionRole, ImpressionState, Storage, Tray
from seatwright.evidence import Confidence, find_evidence, source_of
from seatwright.findings import Finding, Severity
from seatwright.pour._heat import temperature_band
from seatwright.pour._naming import lower_first, spoken, spoken_teeth, whole_minutes
from seatwright.pour._result import Band, ImpressionPhase
from seatwright.pour._rows import minutes_of
from seatwright.pour._windows import DAMP, FLUID, History, Judged
from seatwright.quantities import Measured

__all__ = ["Look", "check_crowns", "check_storage"]

_BARE = (Storage.OPEN_AIR, Storage.DRY)


@dataclass(frozen=True, slots=True)
class Look:
    """One impression as it is looked at: at `minute` since the mouth, which is now or when it was poured."""

    impression: Impression
    name: str
    """As people say it, such as 'Opposing alginate'."""
    state: ImpressionState
    phase: ImpressionPhase
    history: History
    minute: float
    judged: Judged

    @property
    def poured(self) -> str:
        """Return ' when poured' once it is, so that an age is not read as that of now."""
        return "" if self.is_waiting else " when poured"

    @property
    def is_waiting(self) -> bool:
        """Whether it is out of the mouth and not poured."""
        return self.phase is ImpressionPhase.WAITING

    @property
    def verdict(self) -> str:
        """Return what a spoiled impression comes to at this phase, in a few words."""
        return "retake it" if self.is_waiting else "do not trust its cast"

    def give_up(self) -> tuple[Severity, str]:
        """Return how grave a spoiled impression is at this phase, and what to do."""
        name = lower_first(self.name)
        if not self.is_waiting:
            return Severity.WARNING, f"Verify the cast from the {name} in the mouth or on an index before metal."
        if self.impression.role is ImpressionRole.PICK_UP:
            do = "Do not pour this pick-up. Seat the crowns again and take a new impression while the patient is here."
            return Severity.STOP, do
        what = "of the opposing arch" if self.impression.role is ImpressionRole.OPPOSING else "for the reline"
        return Severity.STOP, f"Take a new impression {what} while the patient is here; do not pour this one."

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
        do = f"Rinse and spray the {lower_first(look.name)}, bag it for the maker's contact time, then work on it."
        what = f"{look.name} is not disinfected."
        found.append(look.say("not-disinfected", Severity.WARNING, what, why="It carries saliva.", do=do))
    if (
        look.is_waiting
        and look.impression.role is ImpressionRole.PICK_UP
        and look.impression.tray is Tray.FLEXIBLE_STOCK
    ):
        what = f"{look.name} in a flexible tray: misfit doubled in a test with implant analogs (23 against 11 µm)."
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
            harm = "frozen" if rule == "freezing" else "too hot"
            what = f"{look.name} saw {temperature:g} °C, {harm}: {look.verdict}."
        else:
            severity, do = Severity.WARNING, "Verify the cast across the arch before metal, or take a new impression."
            known = "colder" if rule == "freezing" else "warmer"
            what = f"{look.name} saw {temperature:g} °C: {known} than it is known to bear."
        found.append(look.say(f"impression-{rule}", severity, what, why=why, do=do, of=evidence))
    return found


def _window(look: Look) -> list[Finding]:
    """Say when age itself has left the window; added minutes and temperature have findings of their own."""
    band, rule = look.judged.rung.band, look.judged.rule
    if band is Band.WITHIN or rule in ("heat", "freezing") or rule.endswith(("open-air", "immersed", "damp")):
        return []
    age = f"{spoken(look.judged.minutes)} after the mouth{look.poured}"
    why = look.judged.rung.how_good
    if band is Band.BEYOND:
        severity, do = look.give_up()
        what = f"{look.name} is too old, {age}: {look.verdict}."
        return [Finding("window-beyond", severity, what, why, do, look.judged.rung.source, look.impression.id)]
    is_pick_up = look.impression.role is ImpressionRole.PICK_UP
    cost = _cost(look)
    what = f"{look.name} is past its strict window, {age}, {cost}."
    do = "Verify the cast across the arch before metal."
    if look.is_waiting:
        do = f"{'Finish the dies, then pour' if is_pick_up else 'Pour the ' + lower_first(look.name) + ' now'}. {do}"
    severity = Severity.WARNING if is_pick_up else Severity.CAUTION
    return [Finding("window-stretched", severity, what, why, do, look.judged.rung.source, look.impression.id)]


def _cost(look: Look) -> str:
    rung = look.judged.rung
    if rung.bias_percent is None or rung.u_percent is None:
        return "at a cost that nobody measured"
    return f"at a cost of {Measured(rung.bias_percent, rung.u_percent, '%').shown()} of each span (95 %)"


def _open_air(look: Look) -> list[Finding]:
    found = []
    limit = minutes_of("clock_alg_open")
    bare = look.history.minutes_in(_BARE, look.minute)
    dry = look.history.minutes_in((Storage.DRY,), look.minute)
    why = "Alginate loses water from the first minute; no curve for open air is known."
    if bare > limit:
        severity, do = look.give_up()
        what = f"{look.name} lay uncovered for {spoken(bare)}, past {limit:g} min: {look.verdict}."
        found.append(look.say("open-air", severity, what, why=why, do=do, of="clock_alg_open"))
        return found
    here = look.history.storage_at(look.minute)
    if look.is_waiting and here in _BARE:
        lies = "is kept dry, which counts as open air" if here is Storage.DRY else "lies uncovered"
        what = f"{look.name} {lies}: {whole_minutes(limit - bare)} of {limit:g} min left. Wrap it now."
        do = "Damp tissue and a closed bag, or the humid box. Only the crown in hand is uncovered."
        severity = Severity.WARNING if here is Storage.DRY else Severity.CAUTION
        identifier = "hydrocolloid-dry" if here is Storage.DRY else "wrap-it"
        found.append(look.say(identifier, severity, what, why=why, do=do, of="clock_alg_open"))
    elif dry > 0:
        what = f"{look.name} was kept dry for {spoken(dry)}: counted as open air."
        found.append(look.say("hydrocolloid-dry", Severity.CAUTION, what, why=why, of="clock_alg_open"))
    return found


def _immersion(look: Look) -> list[Finding]:
    limit = minutes_of("clock_alg_immersed")
    minutes = look.history.minutes_wet(FLUID, look.minute)
    if minutes > limit:
        severity, do = look.give_up()
        what = f"{look.name} lay in a fluid for {spoken(minutes)}, past {limit:g} min: {look.verdict}."
        why = "It takes up water or loses salts; 20 min changed it significantly."
        return [look.say("immersed-too-long", severity, what, why=why, do=do, of="alg_disinf_10min")]
    if minutes > 0:
        seen = minutes_of("alg_disinf_spray")
        what = f"{look.name} lay in a fluid for {spoken(minutes)}: one study saw a change at {seen:g} min."
        return [look.say("immersed", Severity.CAUTION, what, do="Spray the next one.", of="alg_disinf_spray")]
    return _long_spray(look, limit)


def _long_spray(look: Look, limit_min: float) -> list[Finding]:
    """Say when a spray stayed on longer than the study that found no change."""
    state = look.state
    if state.disinfection_method != "spray" or state.disinfected_at is None:
        return []
    if state.disinfection_contact_min <= limit_min:
        return []
    told = spoken(state.disinfection_contact_min)
    what = f"{look.name} lay under spray for {told}: past {limit_min:g} min alginate had changed in one study."
    do = "Verify the cast across the arch before metal. Rinse the next one in time."
    return [look.say("sprayed-too-long", Severity.WARNING, what, do=do, of="alg_disinf_10min")]


def _damp(look: Look) -> list[Finding]:
    """Say when polyether was damp, or is in a bag that is damp after disinfection."""
    if look.history.material is not ImpressionMaterial.POLYETHER:
        return []
    limit = minutes_of("clock_pe_damp")
    damp = look.history.minutes_wet(DAMP, look.minute)
    why = "Polyether takes up water and swells; no number is known."
    if damp > limit:
        severity, do = look.give_up()
        what = f"{look.name} was damp for {spoken(damp)}, past {limit:g} min: {look.verdict}."
        return [look.say("polyether-damp", severity, what, why=why, do=do, of="clock_pe_damp")]
    here = look.history.storage_at(look.minute)
    if look.is_waiting and here in (*DAMP, Storage.SEALED_BAG):
        what = f"{look.name} lies damp or in a closed bag: take it out and dry it."
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
        what = f"{look.name}: crowns not counted, {len(look.impression.lifts)} must be there."
        do = "Count seated, in the tray, loose, left on a tooth, before the patient leaves the chair."
        severity = Severity.STOP if look.is_waiting else Severity.WARNING
        return [look.say("crowns-not-counted", severity, what, why="A lost crown may be in the airway.", do=do)]
    found = [*_missing(look), *_left_or_loose(look)]
    planned = frozenset(look.impression.lifts)
    if planned - state.seated:
        what = f"{look.name}: planned but not counted as seated: {spoken_teeth(planned - state.seated)}."
        found.append(
            look.say("crowns-not-seated", Severity.WARNING, what, do="Seat them and count again, or change the plan.")
        )
    if state.seated - planned:
        what = f"{look.name}: seated but not planned: {spoken_teeth(state.seated - planned)}."
        found.append(look.say("crowns-unplanned", Severity.CAUTION, what, do="Mend the plan or the count."))
    return found


def _missing(look: Look) -> list[Finding]:
    state, found = look.state, list[Finding]()
    missing = state.seated - state.in_tray - state.left_on_tooth
    if missing:
        what = f"Crown missing: {spoken_teeth(missing)}, neither in the {lower_first(look.name)} nor on its tooth."
        do = "Airway first: sit the patient up and look. Not found: the patient does not leave without a radiograph."
        found.append(look.say("crown-missing", Severity.STOP, what, why="It may be swallowed or inhaled.", do=do))
    extra = state.in_tray - state.seated
    both = state.in_tray & state.left_on_tooth
    if extra or both:
        what = f"{look.name}: the count of crowns does not agree: {spoken_teeth(extra | both)}."
        found.append(look.say("crown-count-differs", Severity.WARNING, what, do="Count again."))
    return found


def _left_or_loose(look: Look) -> list[Finding]:
    wet = look.impression.material.is_hydrocolloid
    found = []
    for teeth, identifier, words, plural in (
        (look.state.left_on_tooth, "crown-left-on-tooth", "stayed on its tooth", "stayed on their teeth"),
        (look.state.loose, "crown-loose", "is loose", "are loose"),
    ):
        if not teeth:
            continue
        what = f"{look.name}: crown {spoken_teeth(teeth)} {words if len(teeth) == 1 else plural}."
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
