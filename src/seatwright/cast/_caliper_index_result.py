"""The index test's answer: verdict on the gaps, the abutment that is off or the candidates, what to read next."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from seatwright.cast._caliper_index import FoilReading, IndexCandidate, find_candidates, make_gap_model, next_reading
from seatwright.errors import CannotCompute, ValueOutOfRange
from seatwright.findings import COMMON_PRACTICE, Finding, Severity, Source, SourceKind, Verdict, sort_findings

__all__ = ["IndexAsked", "IndexResult", "check_index"]

_K = 2.0  # common practice: coverage factor 2 for about 95 % (JCGM 100:2008, 6.3.3)
_MEASURED = Source(SourceKind.MEASURED, "these foil readings")
_NEXT = (
    "Make no framework on this cast yet. New pick-up; or cut that die out, reset it in the index and lute it again; or "
    "pick its male up in the mouth. Alginate is never poured again."
)


@dataclass(frozen=True, slots=True)
class IndexAsked:
    """What the index test is asked beside the readings.

    Attributes
    ----------
    tolerance_um : float
        Largest allowed gap.
    u_foil_um : float
        Standard uncertainty of what a foil says: its thickness, the feel, the index's own stiffness.
    """

    tolerance_um: float = 50.0
    u_foil_um: float = 5.0


@dataclass(frozen=True, slots=True, eq=False)
class IndexResult:
    """The index test.

    Attributes
    ----------
    verdict : Verdict
        Of the largest gap against the tolerance.
    headline : str
    seats, fixed : tuple of str
        All seats; those at which the index was fixed.
    n_readings, n_unknowns, rank : int
        Gaps that count; unknown heights and tilts beside the index's own pose; how many of them the gaps see.
    is_in_line : bool
        Seats in one line: tilts across it are not seen.
    misfit_none_um : float
        How far the readings are from 'no abutment is off'.
    misfit_one_um, misfit_two_um : float or None
        From 'one is off' and 'two are off', at best; None where not tried.
    candidates : tuple of IndexCandidate
        All that explain the readings; the fewest abutments that do.
    is_located : bool
        Exactly one abutment explains the readings, nothing else does, and the index was fixed at two seats at least.
    next_reading : tuple of str or None
        (fixed, at) of the gap that would part the candidates best.
    unseated : tuple of str
        Seats where the index did not sit although fixed there; their readings do not count.
    readings : tuple of FoilReading
        The gaps that count.
    places_mm : tuple of tuple of float
        Plan place of each seat.
    asked : IndexAsked
    findings : tuple of Finding
    """

    verdict: Verdict
    headline: str
    seats: tuple[str, ...]
    fixed: tuple[str, ...]
    n_readings: int
    n_unknowns: int
    rank: int
    is_in_line: bool
    misfit_none_um: float
    misfit_one_um: float | None
    misfit_two_um: float | None
    candidates: tuple[IndexCandidate, ...]
    is_located: bool
    next_reading: tuple[str, str] | None
    unseated: tuple[str, ...]
    readings: tuple[FoilReading, ...]
    places_mm: tuple[tuple[float, float], ...]
    asked: IndexAsked
    findings: tuple[Finding, ...]


def check_index(
    readings: Sequence[FoilReading],
    places_mm: dict[str, tuple[float, float]] | None = None,
    asked: IndexAsked | None = None,
) -> IndexResult:
    """Find the abutment that is off from gaps read by foil with the index fixed at one seat after the other.

    Parameters
    ----------
    readings : sequence of FoilReading
    places_mm : mapping, optional
        Plan place of each seat, mm, to a millimeter; seats named after teeth have nominal ones.
    asked : IndexAsked, optional

    Returns
    -------
    IndexResult

    Raises
    ------
    ValueOutOfRange
        For numbers out of range, or a seat without a place.
    CannotCompute
        When no gap counts, or there are fewer than two seats.

    Notes
    -----
    Each abutment may be high or low and tilted; an index fixed on it follows it. A gap is seen only where the index
    stands off; where it would be pressed in it reads 0. 'Located' rests on the assumption that no more abutments are
    off than needed. Shifts in plan are not read by foil.

    Examples
    --------
    >>> gaps = [FoilReading("a", "b", 0, 12), FoilReading("a", "c", 50, 60),
    ...         FoilReading("b", "a", 0, 12), FoilReading("b", "c", 50, 60)]
    >>> found = check_index(gaps, {"a": (0, 0), "b": (20, 0), "c": (40, 0)})
    >>> found.is_located, found.candidates[0].seats
    (True, ('c',))
    """
    asked = asked or IndexAsked()
    _require_sane(readings, asked)
    unseated = tuple(r.fixed for r in readings if r.fixed == r.at and r.passes_um > _K * asked.u_foil_um)
    counted = [r for r in readings if r.fixed not in unseated]
    gaps = [r for r in counted if r.fixed != r.at]
    if not gaps:
        raise CannotCompute(
            "no gap counts: where the index was fixed, it did not sit" if unseated else "no gap was read",
            hint="fix the index at a seat where it sits without a gap, and read the others",
        )
    model = make_gap_model(counted, places_mm or {})
    none, _ = find_candidates(model, u_foil_um=asked.u_foil_um, n_off=0)
    one, two, candidates = None, None, tuple[IndexCandidate, ...]()
    if none > _K * asked.u_foil_um:
        one, candidates = find_candidates(model, u_foil_um=asked.u_foil_um, n_off=1)
        if not candidates and len(model.seats) > 2:
            two, candidates = find_candidates(model, u_foil_um=asked.u_foil_um, n_off=2)
    result = IndexResult(
        verdict=_judge(gaps, asked),
        headline="",
        seats=model.seats,
        fixed=tuple(dict.fromkeys(r.fixed for r in gaps)),
        n_readings=len(gaps),
        n_unknowns=model.n_unknowns,
        rank=model.rank,
        is_in_line=model.is_in_line,
        misfit_none_um=none,
        misfit_one_um=one,
        misfit_two_um=two,
        candidates=candidates,
        is_located=len(candidates) == 1 and len(candidates[0].seats) == 1 and len({r.fixed for r in gaps}) > 1,
        next_reading=next_reading(model, candidates, readings, u_foil_um=asked.u_foil_um),
        unseated=unseated,
        readings=tuple(gaps),
        places_mm=tuple((float(x), float(y)) for x, y in model.places_mm),
        asked=asked,
        findings=(),
    )
    return replace(result, headline=_headline(result, gaps), findings=sort_findings(tuple(_findings(result))))


def _require_sane(readings: Sequence[FoilReading], asked: IndexAsked) -> None:
    if not (asked.tolerance_um > 0 and math.isfinite(asked.tolerance_um) and 0 < asked.u_foil_um < math.inf):
        raise ValueOutOfRange(
            f"need a tolerance and a foil uncertainty above 0 µm, got {asked.tolerance_um} and {asked.u_foil_um}"
        )
    for r in readings:
        is_sane = 0 <= r.passes_um < math.inf and (r.stops_um is None or r.passes_um < r.stops_um < math.inf)
        if not is_sane:
            raise ValueOutOfRange(
                f"{r.fixed} fixed, {r.at}: {r.passes_um} µm enters and {r.stops_um} µm does not",
                hint="the foil that stops is thicker than the one that enters",
            )


def _judge(gaps: Sequence[FoilReading], asked: IndexAsked) -> Verdict:
    slack = _K * asked.u_foil_um
    if any(r.passes_um > asked.tolerance_um + slack for r in gaps):
        return Verdict.DOES_NOT_CONFORM
    if all(r.stops_um is not None and r.stops_um + slack <= asked.tolerance_um for r in gaps):
        return Verdict.CONFORMS
    return Verdict.CANNOT_TELL


def _headline(result: IndexResult, gaps: Sequence[FoilReading]) -> str:
    largest = max(r.passes_um for r in gaps)
    words = {
        Verdict.CONFORMS: f"No gap reaches {result.asked.tolerance_um:g} µm",
        Verdict.DOES_NOT_CONFORM: f"Does not conform: a gap of {largest:g} µm or more",
        Verdict.CANNOT_TELL: f"Cannot tell whether every gap stays below {result.asked.tolerance_um:g} µm",
    }[result.verdict]
    if result.misfit_none_um <= _K * result.asked.u_foil_um:
        return f"{words}; the readings fit an index that seats everywhere."
    if result.is_located:
        return f"{words}; {_off_words(result.candidates[0], 0)}: it alone explains every gap."
    if len(result.candidates) == 1 and len(result.candidates[0].seats) == 1:
        return f"{words}; {_off_words(result.candidates[0], 0)}, if one alone is off: fix another end to be sure."
    if len(result.candidates) == 1:
        return f"{words}; off are {' and '.join(result.candidates[0].seats)}, if not more."
    if result.candidates:
        listed = " or ".join(" with ".join(c.seats) for c in result.candidates)
        return f"{words}; off is {listed}: these readings cannot tell which."
    return f"{words}; more than two abutments are off, or the index is not rigid."


def _off_words(candidate: IndexCandidate, place: int) -> str:
    name = candidate.seats[place]
    low, high = candidate.height_um[place]
    if low is not None and low > 0:
        return f"{name} stands {low:.0f}{' or more' if high is None else f' to {high:.0f}'} µm high"
    if high is not None and high < 0:
        return f"{name} stands {-high:.0f}{' or more' if low is None else f' to {-low:.0f}'} µm low"
    return f"{name} is tilted"


def _findings(result: IndexResult) -> list[Finding]:
    found = [
        Finding("index-not-seated", Severity.WARNING, f"The index did not sit at {name} although fixed there.",
                why="something holds it up elsewhere; gaps read from there do not count",
                do="Fix it at another seat; look for what holds it up.", source=_MEASURED, about=name)
        for name in result.unseated
    ]  # fmt: skip
    if result.is_located:
        found.append(
            Finding("index-located", Severity.STOP if result.verdict is Verdict.DOES_NOT_CONFORM else Severity.CAUTION,
                    f"{_off_words(result.candidates[0], 0)}.",
                    why="it alone explains every gap, and no other abutment alone does",
                    do=_NEXT if result.verdict is Verdict.DOES_NOT_CONFORM else "Weigh it against the tolerance.",
                    source=COMMON_PRACTICE, about=result.candidates[0].seats[0])
        )  # fmt: skip
    elif result.candidates:
        found.append(_candidates_finding(result))
    elif result.misfit_none_um > _K * result.asked.u_foil_um:
        found.append(
            Finding("index-unexplained", Severity.STOP, "No one or two abutments explain these gaps.",
                    why="several are off, the index bends, or a foil was misread",
                    do="Read again; if it stays, section the index and lute it anew in the mouth.",
                    source=COMMON_PRACTICE)
        )  # fmt: skip
    return [*found, *_sight_findings(result)]


def _candidates_finding(result: IndexResult) -> Finding:
    listed = "; ".join(" with ".join(_off_words(c, k) for k in range(len(c.seats))) for c in result.candidates)
    do = "Fix each seat in turn and read all others."
    if result.next_reading is not None:
        do = f"Fix {result.next_reading[0]} and read {result.next_reading[1]}: the candidates differ most there."
    elif len(result.fixed) == 1:
        do = "Fix the index at another seat and read all others."
    elif len(result.seats) == 2:
        do = "Two seats alone never tell which is off: include a third."
    return Finding(
        "index-candidates",
        Severity.STOP if result.verdict is Verdict.DOES_NOT_CONFORM else Severity.WARNING,
        f"One of these is off: {listed}." if len(result.candidates) > 1 else f"Off, if not more: {listed}.",
        why=f"{result.n_readings} gaps see {result.rank} of {result.n_unknowns} unknowns",
        do=do,
        source=_MEASURED,
    )


def _sight_findings(result: IndexResult) -> list[Finding]:
    found = []
    if len(result.fixed) == 1:
        found.append(
            Finding("index-one-end", Severity.CAUTION, f"The index was fixed at {result.fixed[0]} only.",
                    why="an abutment that stands high, and a tilt of the fixed one, look alike from there",
                    do="Fix the other end too.", source=_MEASURED)
        )  # fmt: skip
    if result.is_in_line and len(result.seats) > 2:
        found.append(
            Finding("index-line", Severity.NOTE, "The seats stand in one line: tilts across it are not seen.",
                    source=_MEASURED)
        )  # fmt: skip
    found.append(
        Finding("index-plan", Severity.NOTE, "A foil reads gaps, not shifts in plan.",
                do="Check positions by caliper or scan.", source=_MEASURED)
    )  # fmt: skip
    return found
