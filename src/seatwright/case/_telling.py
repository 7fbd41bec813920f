"""What happened, told in one line each, as a timeline shows it. Pure."""

from collections.abc import Callable, Sequence
from typing import Any

from seatwright.case._events import Event

__all__ = ["tell_event"]


def _units(units: Sequence[int]) -> str:
    return f" ({', '.join(map(str, units))})" if units else ""


def _on(impression: str | None) -> str:
    return f" {impression}" if impression else ""


def _plain(word: str) -> str:
    return word.replace("_", " ")


def _tell_count(e: Any) -> str:
    missing = sorted(set(e.seated) - set(e.in_tray))
    loose = f", loose {', '.join(map(str, e.loose))}" if e.loose else ""
    gone = f", missing {', '.join(map(str, missing))}" if missing else ""
    return f"{e.impression}: {len(e.in_tray)} of {len(e.seated)} crowns in the tray{gone}{loose}"


def _tell_measured(e: Any) -> str:
    spread = f" ± {e.u:g} (standard uncertainty)" if e.u is not None else ""
    about = f", {e.about}" if e.about else ""
    return f"{e.quantity}: {e.value:g}{spread} {e.unit}".rstrip() + about


def _tell_corrected(e: Any) -> str:
    instead = tell_event(e.instead) if e.instead is not None else "it did not happen"
    which = f"event {e.corrects} was wrong" if e.corrects is not None else "an event was forgotten"
    when = f" at {e.instead.at:%Y-%m-%d %H:%M} UTC" if e.instead is not None else ""
    return f"{which}; truly{when}: {instead} (because: {e.reason})"


_WORDS: dict[str, Callable[[Any], str]] = {
    "impression_out": lambda e: f"{e.impression} left the mouth",
    "rinsed": lambda e: f"{e.impression} rinsed",
    "disinfected": lambda e: (
        f"{e.impression} disinfected by {e.method}, {e.contact_min:g} min{', bagged' if e.bagged else ''}"
    ),
    "storage_changed": lambda e: f"{e.impression} is kept: {_plain(e.storage)}",
    "temperature": lambda e: f"{e.impression} saw {e.temperature_c:g} °C",
    "crowns_counted": _tell_count,
    "crowns_dried": lambda e: f"{e.impression}: crowns dried{_units(e.units)}",
    "die_tried": lambda e: f"die {e.die} tried in {e.tooth}: {_plain(e.seating)}, gap {e.gap_um:g} µm",
    "step_started": lambda e: f"began {_plain(e.step)}{_on(e.impression)}{_units(e.units)}",
    "step_finished": lambda e: f"finished {_plain(e.step)}{_on(e.impression)}{_units(e.units)}",
    "poured": lambda e: f"{e.impression} poured in {_plain(e.stone)} stone{f', lot {e.lot}' if e.lot else ''}",
    "separated": lambda e: f"{e.impression} separated",
    "measured": _tell_measured,
    "decided": lambda e: f"decided: {e.decision} (because: {e.reason})",
    "signed_off": lambda e: f"{e.gate}: {'accepted' if e.accepted else 'REFUSED'}{f' ({e.note})' if e.note else ''}",
    "material_used": lambda e: (
        f"{e.material}, lot {e.lot}, for {_plain(e.used_for)}{_on(e.impression)}{_units(e.units)}"
    ),
    "photo": lambda e: f"photo {e.file}{f': {e.about}' if e.about else ''}{_units(e.units)}",
    "outcome": lambda e: f"outcome: {_plain(e.outcome)}{_units(e.units)}{f' ({e.note})' if e.note else ''}",
    "corrected": _tell_corrected,
}


def tell_event(event: Event) -> str:
    """Return what happened in one line, in the trade's plain words; who and when are told beside it.

    Examples
    --------
    >>> from seatwright.case import parse_event
    >>> event, _ = parse_event({"seq": 1, "at": "2026-03-09T10:00:00Z", "by": "lead", "what": "outcome",
    ...                         "outcome": "margin_chipped", "units": [43]})
    >>> tell_event(event)
    'outcome: margin chipped (43)'
    """
    return _WORDS[event.what](event)
