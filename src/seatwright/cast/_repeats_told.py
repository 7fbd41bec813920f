"""What several scans of one cast said of the scanner, in words: how it repeats, and whether that is as declared."""

from collections.abc import Sequence

from seatwright.cast._copies import Copy
from seatwright.cast._repeat_scans import ScanRepeatability
from seatwright.findings import Finding, Severity, Source, SourceKind
from seatwright.quantities import Measured, tell_interval, tell_value

__all__ = ["tell_copies", "tell_repeats"]

_SOURCE = Source(SourceKind.STANDARD, "ISO 5725-1:1994, 3.14; ISO 5725-2:2019, 7.4")
_MEASURED = Source(SourceKind.MEASURED, "this comparison of scans")


def tell_copies(copies: Sequence[Copy]) -> list[Finding]:
    """Say which scans are no scans of their own."""
    return [
        Finding(
            "cast-repeats-same",
            Severity.CAUTION,
            f"Scan {copy.scan + 1} of the poured cast is the mesh of scan {copy.of + 1}: it counts as no repeat.",
            why=f"{100 * copy.share:.0f} % of its points stand on points of the other; two scans meet so by chance in "
            "some 4 %. A copy repeats to nothing and says nothing of the scanner",
            do="Scan the cast again, taken off the table between, or leave the copy out.",
            source=_MEASURED,
        )
        for copy in copies
    ]


def tell_repeats(repeats: ScanRepeatability | None, size: tuple[int, int], declared_um: float) -> list[Finding]:
    """Say how well a unit's place repeats over so many scans and units, and where that contradicts the declared value.

    `declared_um` is that of one poured scan.
    """
    if repeats is None or not repeats.is_enough:
        return [_tell_few(size, declared_um)]
    found, turn = repeats.shift_um, repeats.turn_deg
    told = Finding(
        "cast-repeatability",
        Severity.NOTE,
        f"A unit's place repeats to {_value(found)} µm ({_between(repeats)} µm) and its turn to "
        f"{_value(turn)} degrees from scan to scan.",
        why=f"standard deviation over {repeats.n_scans} scans and {repeats.n_units} units, {_dof(repeats)}, 95 % "
        f"interval by the chi-square law; used for the poured scans in place of the declared {declared_um:.2g} µm for "
        "one scan",
        source=_SOURCE,
    )
    low, high = repeats.shift_interval_um
    if declared_um == 0 or low <= declared_um <= high:
        return [told]
    is_less = declared_um > high
    return [
        told,
        Finding(
            "cast-repeatability-differs",
            Severity.CAUTION,
            f"The scans repeat {'better' if is_less else 'worse'} than declared: {_value(found)} µm "
            f"({_between(repeats)} µm, {_dof(repeats)}) against {declared_um:.2g} µm for one scan.",
            why="the declared value lies outside the 95 % interval; what was found counts for the poured scans",
            do="Take the cast off the table and set it again for each scan; if that was not done, give one scan only."
            if is_less
            else "Look for what changed between the scans: warming up, light, powder, a cast that rocks.",
            source=_SOURCE,
        ),
    ]


def _tell_few(size: tuple[int, int], declared_um: float) -> Finding:
    return Finding(
        "cast-repeatability-few",
        Severity.CAUTION,
        f"{size[0]} scans of {size[1]} units are too few to tell how the scanner repeats: the declared "
        f"{declared_um:.2g} µm for one scan stay.",
        why="the pose of each scan leaves fewer than three degrees of freedom",
        do="Scan the cast more often, or name more units.",
        source=_SOURCE,
    )


def _value(spread: Measured) -> str:
    return tell_value(spread.value, spread.u)


def _between(repeats: ScanRepeatability) -> str:
    return " to ".join(tell_interval(*repeats.shift_interval_um, repeats.shift_um.u))


def _dof(repeats: ScanRepeatability) -> str:
    return f"{repeats.shift_um.dof:.0f} degrees of freedom"
