"""What is remarked on a framework: where it enters, where it is shut out, where it touches first."""

from collections.abc import Callable, Sequence

from seatwright.findings import Finding, Severity, Source, SourceKind
from seatwright.survey._seating import PartSeating

__all__ = ["Place", "remark_on_framework", "remark_on_seat_shift", "remark_on_shut"]

Place = tuple[float, float, float]

_EXACT = Source(SourceKind.MEASURED, "triangle-exact test of straight withdrawal on the two meshes")
_NARROW_DEG = 1.0  # judgement: narrower than a hand and a tilting table repeat


def remark_on_framework(
    in_radii_deg: Sequence[float], seating: PartSeating | None, n_tried: int, name_place: Callable[[Place], str]
) -> tuple[Finding, ...]:
    """Return what is to be said of its own window, widest region first, and of its seating along the path."""
    notes = []
    if not in_radii_deg:
        notes.append(
            Finding(
                "survey-framework-locked",
                Severity.WARNING,
                f"The framework enters along none of {n_tried} directions tried.",
                "Somewhere the cast stands above it along each of them.",
                "See where it touches first; block out there, or relieve the framework.",
                _EXACT,
            )
        )
    elif in_radii_deg[0] < _NARROW_DEG:
        notes.append(
            Finding(
                "survey-framework-narrow",
                Severity.NOTE,
                f"The framework's window is {in_radii_deg[0]:.2f} degree to its nearest limit.",
                "Only a guided path meets it.",
                source=_EXACT,
            )
        )
    if len(in_radii_deg) > 1:
        notes.append(
            Finding(
                "survey-framework-regions",
                Severity.NOTE,
                f"The framework enters in {len(in_radii_deg)} separate regions of paths.",
                "Between them it is blocked: a middle path would not do.",
                source=_EXACT,
            )
        )
    if seating is not None and not seating.enters:
        places = ", ".join(name_place(t.at_mm) for t in seating.first)
        relief = (
            f"Relieving the framework by {seating.relief_um:.0f} µm all over would let it in."
            if seating.relief_um is not None
            else "No relief up to 0.5 mm lets it in."
        )
        notes.append(
            Finding(
                "survey-framework-stops-short",
                Severity.WARNING,
                f"Along this path the framework stops {seating.stops_short_mm:.2f} mm short of its seat.",
                f"It touches first at {places}. {relief}",
                "Block out the undercut there before the framework is made, or relieve it; never force it.",
                _EXACT,
            )
        )
    return tuple(notes)


def remark_on_shut(
    features: Sequence[str], angle_deg: float | None, seating: PartSeating, name_place: Callable[[Place], str]
) -> Finding:
    """Say that guides and framework share no path: which guides, how far apart, and where the framework meets the cast.

    Without an angle the framework enters nowhere; the seating then is that along the middle of what the guides admit.
    """
    places = ", ".join(name_place(t.at_mm) for t in seating.first)
    names = " and ".join(features) or "the tilt searched"
    return Finding(
        "survey-framework-shut",
        Severity.WARNING,
        f"No path serves both {names} and the framework: {angle_deg:.2f} degrees lie between what they admit."
        if angle_deg is not None
        else "No path serves the framework: it enters along none of those tried.",
        f"Along the {'nearest path' if angle_deg is not None else 'middle of the paths'} that {names} would admit, the "
        f"framework stops {seating.stops_short_mm:.2f} mm short of its seat; it touches first at {places}.",
        "Block out or relieve there, or change what is named; no compromise is offered.",
        _EXACT,
        features[0] if features else "",
    )


def remark_on_seat_shift(shift_um: float, as_designed: PartSeating | None, seating: PartSeating) -> Finding:
    """Say where a framework sits whose attachments are entered to one side, and whether it enters there."""
    designed = "" if as_designed is None else f" As designed it {_enters(as_designed)}."
    return Finding(
        "survey-framework-floats",
        Severity.NOTE if seating.enters else Severity.CAUTION,
        f"Along this path the framework sits {shift_um:.0f} µm to one side of where it was designed, and there it "
        f"{_enters(seating)}.",
        f"Its attachments are entered only so.{designed}",
        "" if seating.enters else "Its fit must leave that room all round, or the axes must be aligned.",
        _EXACT,
    )


def _enters(seating: PartSeating) -> str:
    return "enters" if seating.enters else f"stops {seating.stops_short_mm:.2f} mm short of its seat"
