"""Small tools that the checks of a case share: faults with places. Knows no rule of the trade."""

from collections.abc import Iterable, Sequence
from difflib import get_close_matches

from seatwright.errors import Fault

__all__ = ["closest_hint", "find_repeated", "find_unknown", "located"]


def located(faults: Iterable[Fault], file: str) -> tuple[Fault, ...]:
    """Put the file's name before each place."""
    return tuple(Fault(f"{file}: {f.where}" if f.where else file, f.what, f.hint) for f in faults)


def find_repeated(where: str, field: str, values: Sequence[object]) -> list[Fault]:
    """Return a fault for each value that stood in the list before."""
    suffix = f".{field}" if field else ""
    return [
        Fault(
            f"{where}[{i}]{suffix}",
            f"{value} stands twice: {where}[{values.index(value)}] has it too",
            "remove one of the two, or rename it",
        )
        for i, value in enumerate(values)
        if value in values[:i]
    ]


def find_unknown(where: str, values: Sequence[object], known: Sequence[object], *, noun: str) -> list[Fault]:
    """Return a fault for each value that names nothing known."""
    return [
        Fault(f"{where}[{i}]", f"there is no {noun} {value}", closest_hint(value, known, noun=noun))
        for i, value in enumerate(values)
        if value not in known
    ]


def closest_hint(value: object, known: Iterable[object], *, noun: str) -> str:
    """Return a remedy for a name that is not known: the closest one, or all of them."""
    names = [str(k) for k in known]
    close = get_close_matches(str(value), names, n=1, cutoff=0.6)  # judgement: one or two letters off
    if close:
        return f"did you mean {close[0]}?"
    if not names:
        return f"the case has no {noun}: add one, or remove this"
    return f"known: {', '.join(names)}"
