"""What the forecast remarks on beside its numbers."""

from seatwright.case import Case
from seatwright.findings import JUDGEMENT, Finding, Severity, Source, SourceKind
from seatwright.forecast._bodies import place_teeth
from seatwright.forecast._choices import Choices
from seatwright.forecast._links import find_link
from seatwright.forecast._result import SeatingChance, SeatingWord
from seatwright.forecast._seating import Setup

__all__ = ["find_remarks"]

_SURPRISING = 0.001  # judgement: one cast in a thousand


def find_remarks(case: Case, choices: Choices, setup: Setup, chance: SeatingChance) -> tuple[Finding, ...]:
    """Return the remarks, gravest first."""
    found = [_verdict(chance), *_weak_links(setup), *_geometry(case, setup)]
    if setup.surprise < _SURPRISING:
        found.append(
            Finding(
                "forecast-cast-check-surprises",
                Severity.WARNING,
                "The cast check is far outside what ordinary technique gives: a die moved, or a unit was misplaced.",
                f"One cast in {1 / max(setup.surprise, 1e-9):,.0f} would be as far off by the chain's own spread.",
                "Look at the cast check first; the narrowed forecast holds only for this cast as it stands.",
                Source(SourceKind.MEASURED, "cast check against the chain"),
            )
        )
    if choices.rest_gap_um is None:
        found.append(
            Finding(
                "forecast-rest-gap-default",
                Severity.NOTE,
                "A rest counts as seated up to 311 µm of gap, a limit quoted in clinical papers.",
                "The case states none of its own.",
                "Set a smaller gap where the case asks for it.",
                Source(SourceKind.JUDGEMENT, "fc_rest_gap"),
            )
        )
    order = list(Severity)
    return tuple(sorted(found, key=lambda f: -order.index(f.severity)))


def _verdict(chance: SeatingChance) -> Finding:
    percent, low, high = (round(100 * v) for v in (chance.value, chance.low, chance.high))
    place = chance.binds[0].link if chance.binds else ""
    severity = {
        SeatingWord.USUALLY: Severity.NOTE,
        SeatingWord.SOMETIMES: Severity.CAUTION,
        SeatingWord.CANNOT_TELL: Severity.CAUTION,
        SeatingWord.RARELY: Severity.WARNING,
    }[chance.says]
    words = {
        SeatingWord.USUALLY: "The partial usually seats",
        SeatingWord.SOMETIMES: "The partial sometimes seats",
        SeatingWord.CANNOT_TELL: "The evidence cannot tell whether the partial seats",
        SeatingWord.RARELY: "The partial rarely seats",
    }[chance.says]
    return Finding(
        "forecast-seating",
        severity,
        f"{words}: {percent} trials in 100 ({low} to {high} over what is poorly known).",
        f"Where it fails, {place} decides most often." if place else "No trial failed.",
        "" if chance.says is SeatingWord.USUALLY else "See what to change; nothing is poured or joined yet.",
        Source(SourceKind.MEASURED, "seating program"),
        place,
    )


def _weak_links(setup: Setup) -> list[Finding]:
    names = dict.fromkeys(c.link for c in setup.chain.causes)
    weak = [find_link(name) for name in names if find_link(name).how_good == "low"]
    return [
        Finding(
            "forecast-weak-link",
            Severity.NOTE,
            f"{link.title}: no study measured it; an engineering choice with a range is used.",
            "The range of the chance covers it.",
            "Replace it by the maker's or the practice's own figures where there are any.",
            JUDGEMENT,
        )
        for link in weak
    ]


def _geometry(case: Case, setup: Setup) -> list[Finding]:
    found = []
    _, nominal = place_teeth(case)
    if nominal:
        teeth = ", ".join(str(t) for t in nominal)
        found.append(
            Finding(
                "forecast-nominal-places",
                Severity.CAUTION,
                f"The places of {teeth} are those of an average arch.",
                "The case gives no region for them.",
                "Name their regions on the reference scan.",
                JUDGEMENT,
            )
        )
    stops = sum(f.has_stop for f in setup.features)
    if stops < 3:
        found.append(
            Finding(
                "forecast-few-stops",
                Severity.CAUTION,
                f"Only {stops} places carry the partial along the path: it may tilt about them.",
                "Three or more decide a seat.",
                "Plan rests, or say where they are.",
                JUDGEMENT,
            )
        )
    return found
