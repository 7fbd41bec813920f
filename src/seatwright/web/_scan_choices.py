"""What a brought scan may serve as in a plan, in words, each with the name that it gets."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from seatwright.case import Arch, ScanOf, ScanRole, other_arch

__all__ = ["ScanChoice", "list_choices", "name_unit"]

_UNIT_WORDS = {"mm": "millimeters", "in": "inches", "cm": "centimeters", "m": "meters", "um": "micrometers"}
_REFERENCES = (
    (ScanOf.MOUTH, "scanned in the mouth"),
    (ScanOf.VERIFIED_CAST, "of a verified cast"),
    (ScanOf.INDEX, "of an index"),
)


@dataclass(frozen=True, slots=True)
class ScanChoice:
    """One thing that a scan may serve as."""

    role: ScanRole
    of: ScanOf
    arch: Arch
    scan_id: str
    said: str

    @property
    def value(self) -> str:
        """How a form names it."""
        return f"{self.role.value}:{self.of.value}:{self.scan_id}"


def list_choices(document: Mapping[str, Any]) -> tuple[ScanChoice, ...]:
    """Return what a scan may serve as in a plan; one reference only, so that a new one takes its place."""
    arch = Arch(document["arch"])
    scans: list[Mapping[str, Any]] = list(document.get("scan", ()))
    taken = [str(scan.get("id", "")) for scan in scans]
    reference = next((str(s["id"]) for s in scans if s.get("role") == ScanRole.REFERENCE.value), "")
    instead = f", in the place of {reference}" if reference else ""
    found = [
        ScanChoice(
            ScanRole.REFERENCE, of, arch, reference or _free("reference", taken), f"the reference, {word}{instead}"
        )
        for of, word in _REFERENCES
    ]
    new = _free("poured", taken)
    poured = [str(s["id"]) for s in scans if s.get("role") == ScanRole.POURED.value]
    said = f"the poured cast, a further scan ({new})" if poured else "the poured cast"
    found.append(ScanChoice(ScanRole.POURED, ScanOf.POURED_CAST, arch, new, said))
    found += [
        ScanChoice(ScanRole.POURED, ScanOf.POURED_CAST, arch, old, f"the poured cast, in the place of {old}")
        for old in poured
    ]
    opposing = _free("opposing", taken)
    words = ((ScanOf.MOUTH, "scanned in the mouth"), (ScanOf.POURED_CAST, "of its cast"))
    found += [
        ScanChoice(ScanRole.OPPOSING, of, other_arch(arch), opposing, f"the opposing arch, {word}")
        for of, word in words
    ]
    return tuple(found)


def name_unit(unit: str) -> str:
    """Return a length unit in words."""
    return _UNIT_WORDS.get(unit, unit)


def _free(name: str, taken: list[str]) -> str:
    """Return the name, or the name with the first free number."""
    return next(n for n in (name, *(f"{name}-{k}" for k in range(2, 1000))) if n not in taken)
