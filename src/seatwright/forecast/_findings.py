"""What the forecast remarks on beside its numbers."""

from seatwright.case import Case
from seatwright.evidence import Confidence, find_evidence
from seatwright.findings import JUDGEMENT, Finding, Severity, Source, SourceKind
from seatwright.forecast._answer import list_room
from seatwright.forecast._bodies import place_teeth
from seatwright.forecast._choices import Choices
from seatwright.forecast._result import Change, LinkUsed, Room, SeatingChance, SeatingWord
from seatwright.forecast._seating import Setup, is_unsupported
from seatwright.forecast._update import SURPRISING

__all__ = ["find_remarks"]


def find_remarks(
    case: Case,
    choices: Choices,
    setup: Setup,
    chance: SeatingChance,
    links: tuple[LinkUsed, ...],
    *,
    best: Change | None = None,
) -> tuple[Finding, ...]:
    """Return the remarks, gravest first."""
    room = list_room(setup.features, setup.bodies, choices)
    found = [_verdict(chance, choices, best), *_weak_figures(links, room), *_own(choices), *_geometry(case, setup)]
    for body, chance_of_it in setup.surprises.items():
        if chance_of_it < SURPRISING:
            found.append(_surprise(body, chance_of_it))
    if any(r.evidence == "fc_rest_gap" for r in room):
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


def _surprise(body: str, chance: float) -> Finding:
    rarity = "fewer than one cast in a million" if chance < 1e-6 else f"one cast in {1 / chance:,.0f}"
    return Finding(
        "forecast-cast-check-surprises",
        Severity.WARNING,
        f"{body} stands where ordinary technique hardly ever puts it: its die moved, or it was misplaced.",
        f"By the chain's own spread {rarity} would show it as far off. The forecast takes it where it was found.",
        "Look at the cast check first; the forecast holds only for this cast as it stands.",
        Source(SourceKind.MEASURED, "cast check against the chain"),
        body,
    )


def _verdict(chance: SeatingChance, choices: Choices, best: Change | None) -> Finding:
    percent, low, high = (round(100 * v) for v in (chance.value, chance.low, chance.high))
    place = chance.binds[0].link if chance.binds else ""
    if is_unsupported(choices):
        return Finding(
            "forecast-seating",
            Severity.WARNING,
            "The evidence cannot tell whether the partial seats: the impression is past what any source supports.",
            f"With the last figures known, {percent} trials in 100 would seat.",
            "Take a new impression; the forecast then holds for it.",
            Source(SourceKind.MEASURED, "seating program"),
        )
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
        _advice(chance, best),
        Source(SourceKind.MEASURED, "seating program"),
        place,
    )


def _advice(chance: SeatingChance, best: Change | None) -> str:
    if chance.says is SeatingWord.USUALLY:
        return ""
    if best is None:
        return "Nothing that is still open helps for certain."
    return f"{best.what}; then {100 * best.p_seats:.0f} in 100 seat, for {best.cost}."


def _weak_figures(links: tuple[LinkUsed, ...], room: tuple[Room, ...]) -> list[Finding]:
    """Name every figure of low confidence that is in use: none drives the answer silently."""
    weak = [k.title[:1].lower() + k.title[1:] for k in links if k.how_good == Confidence.LOW]
    given = [r.quantity for r in room if r.how_good == Confidence.LOW]
    found = []
    for identifier, what, names in (
        ("forecast-weak-links", "No study measured these links; engineering choices with a range stand for them", weak),
        (
            "forecast-weak-room",
            "No study measured how much room these give; choices with a range stand for them",
            given,
        ),
    ):
        if names:
            found.append(
                Finding(
                    identifier,
                    Severity.NOTE,
                    f"{what}: {', '.join(names)}.",
                    "The range of the chance covers them.",
                    "Replace them by the maker's or the practice's own figures where there are any (--evidence).",
                    JUDGEMENT,
                )
            )
    return found


def _own(choices: Choices) -> list[Finding]:
    return [
        Finding(
            "forecast-own-figure",
            Severity.NOTE,
            f"{record.quantity[:1].upper()}{record.quantity[1:]}: {record.shown()} instead of the published "
            f"{find_evidence(record.id).shown()}.",
            record.conditions,
            "",
            Source(SourceKind.CASE, f"{record.source} [{record.id}]"),
        )
        for record in choices.own.records.values()
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
