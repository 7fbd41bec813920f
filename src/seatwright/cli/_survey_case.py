"""`seatwright survey CASE`: parse, call the workflow, print. No calculation."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from seatwright import wiring
from seatwright.cli import _show
from seatwright.cli._boundary import EXIT_NOT_CONFORMING
from seatwright.cli._moment import parse_now
from seatwright.cli._survey_bench import TypedBench, parse_marks, parse_numbers, require_clearance, write_bench
from seatwright.cli._survey_show import show_survey
from seatwright.errors import InputError
from seatwright.findings import Verdict
from seatwright.quantities import FloatArray
from seatwright.survey import MEASURES, PathWeights
from seatwright.workflows.envelope import make_envelope
from seatwright.workflows.survey_case import SCAN_SLACK_MM, CaseSurvey, LoosePart, SurveyAsked, survey_case

__all__ = ["TypedSurvey", "parse_readings", "run_survey_case"]


@dataclass(frozen=True, slots=True)
class TypedSurvey:
    """Options of `seatwright survey CASE` as typed."""

    max_tilt_deg: float = 20.0
    path: str | None = None
    tilt: str | None = None
    table: str | None = None
    marks: tuple[str, ...] = ()
    mandrels: tuple[str, ...] = ()
    gauges: tuple[str, ...] = ()
    occlusal: str | None = None
    framework: Path | None = None
    clearance_um: float = 0.0
    length_unit: str = "mm"
    weights: tuple[str, ...] = ()
    bench: TypedBench = field(default_factory=TypedBench)

    def read(self) -> SurveyAsked:
        """Return what is asked, in numbers; InputError naming the option that cannot be read."""
        return SurveyAsked(
            max_tilt_deg=self.max_tilt_deg,
            seat_direction=_three(self.path, "--path"),
            tilt_deg=_two(self.tilt, "--tilt"),
            table_deg=_two(self.table, "--table"),
            marks_mm=self._marks(),
            mandrels_deg={k: (v[0], v[1]) for k, v in parse_readings(self.mandrels, "--mandrel", count=2).items()},
            gauges_mm={k: v[0] for k, v in parse_readings(self.gauges, "--gauge", count=1).items()},
            occlusal=_three(self.occlusal, "--occlusal"),
            framework=self._part(),
            weights=_weights(self.weights),
            bench=self.bench.read(slack_mm=SCAN_SLACK_MM, has_plan=True),
        )

    def _marks(self) -> FloatArray | None:
        if self.marks and len(self.marks) != 3:
            raise InputError(
                f"--mark is given {len(self.marks)} times", hint="three marks, X,Y,Z in the reference scan's frame"
            )
        return np.array(parse_marks(self.marks, "--mark")) if self.marks else None

    def _part(self) -> LoosePart | None:
        if self.framework is None:
            return None
        require_clearance(self.clearance_um)
        surface, file = wiring.read_loose_part(self.framework, length_unit=self.length_unit, option="--framework")
        return LoosePart(surface, file, self.clearance_um)


def _weights(texts: Sequence[str]) -> PathWeights:
    known = [m.name for m in MEASURES]
    given = {name: v[0] for name, v in parse_readings(texts, "--weight", count=1).items()}
    for name in given:
        if name not in known:
            raise InputError(f"--weight: there is no measure {name}", hint="one of: " + ", ".join(known))
    return PathWeights(**given)


def _two(text: str | None, option: str) -> tuple[float, float] | None:
    numbers = parse_numbers(text, option, count=2)
    return None if numbers is None else (numbers[0], numbers[1])


def _three(text: str | None, option: str) -> tuple[float, float, float] | None:
    numbers = parse_numbers(text, option, count=3)
    return None if numbers is None else (numbers[0], numbers[1], numbers[2])


def run_survey_case(
    case: Path, typed: TypedSurvey, *, now: str | None, svg: Path | None, strict: bool, as_json: bool
) -> int:
    """Run `seatwright survey CASE`; with `strict`, exits with 10 when no path serves all that is rigid."""
    with _show.progress_bar() as progress:
        answer = survey_case(
            wiring.open_case(case),
            now=parse_now(now),
            clock=wiring.SystemClock(),
            asked=typed.read(),
            progress=progress,
        )
    if svg is not None:
        _write_figure(svg, answer)
    written = _write_bench(answer, typed.bench)
    if as_json:
        envelope = make_envelope("survey", inputs=answer.inputs, result=answer.as_result(), findings=answer.findings)
        _show.print_json(envelope)
    else:
        show_survey(answer)
        for sentence in written:
            _show.say(sentence)
    fails = answer.result.path is None or answer.result.verdict is Verdict.DOES_NOT_CONFORM
    return EXIT_NOT_CONFORMING if strict and fails else 0


def _write_bench(answer: CaseSurvey, typed: TypedBench) -> list[str]:
    if answer.bench is not None:
        return write_bench(answer.bench, typed, answer.scan_name, frame=answer.result.frame)
    if typed.is_asked:
        raise InputError(
            "undercuts, block-out and relief need a path and the reference scan of the case",
            hint="add the scan to case.toml, or choose a path with --tilt or --path",
        )
    return []


def _write_figure(svg: Path, answer: CaseSurvey) -> None:
    from seatwright.figures import draw_path_window  # noqa: PLC0415 - drawn only when asked

    try:
        svg.write_text(draw_path_window(answer.result), encoding="utf-8")
    except OSError as error:
        raise InputError(f"{svg}: cannot be written ({error.strerror})", hint="give another path") from error


def parse_readings(texts: Sequence[str], option: str, *, count: int) -> dict[str, tuple[float, ...]]:
    """Read NAME=NUMBER or NAME=NUMBER,NUMBER; InputError naming the option otherwise."""
    found: dict[str, tuple[float, ...]] = {}
    for text in texts:
        name, equals, rest = text.partition("=")
        if not (name and equals):
            raise InputError(f"{option} {text!r} has no name", hint=f"such as {option} slide-35=2.5,1.0")
        numbers = parse_numbers(rest, option, count=count)
        if numbers is not None:
            found[name] = numbers
    return found
