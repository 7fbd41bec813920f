"""`seatwright survey CASE`: parse, call the workflow, print. No calculation."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.markup import escape
from rich.table import Table

from seatwright import wiring
from seatwright.cli import _show
from seatwright.cli._boundary import EXIT_NOT_CONFORMING
from seatwright.cli._moment import parse_now
from seatwright.cli._survey_bench import TypedBench, parse_marks, parse_numbers, show_bench, write_bench
from seatwright.errors import InputError
from seatwright.findings import Verdict
from seatwright.quantities import FloatArray
from seatwright.survey import MEASURES, FrameworkSurvey, PathAnswer, PathSurvey, PathWeights, PathWindow
from seatwright.workflows.envelope import make_envelope
from seatwright.workflows.survey_case import SCAN_SLACK_MM, CaseSurvey, LoosePart, SurveyAsked, survey_case

__all__ = ["TypedSurvey", "parse_readings", "run_survey_case", "show_survey"]

_MOST_CLEARANCE_UM = 500.0  # judgement: more room than that is no fit


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
            bench=self.bench.read(slack_mm=SCAN_SLACK_MM),
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
        if not 0.0 <= self.clearance_um <= _MOST_CLEARANCE_UM:
            raise InputError(
                f"--clearance-um {self.clearance_um:g} is not between 0 and {_MOST_CLEARANCE_UM:g}",
                hint="the room on each side that the framework's fit leaves, µm",
            )
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
        return write_bench(answer.bench, typed, answer.scan_name)
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


def show_survey(answer: CaseSurvey) -> None:
    """Print the path, the window, what it means for each thing planned and at the bench, and the findings."""
    console, result = Console(highlight=False), answer.result
    console.print(f"[bold]{escape(_headline(result))}[/bold]", soft_wrap=True)
    if result.path is not None:
        _show_path(console, result.path)
    _show_window(console, result.window)
    if result.window_floating is not None:
        _show_window(console, result.window_floating)
    if result.attachments:
        console.print(_attachment_table(result))
    if result.path is not None:
        _show_holds(console, result.path)
        _show_measures(console, result)
    if result.framework is not None:
        _show_framework(console, result.framework)
    if answer.bench is not None:
        show_bench(answer.bench, answer.scan_name)
    _show.show_findings(answer.findings, limit=10)


def _headline(result: PathSurvey) -> str:
    if result.path is None:
        return result.no_path
    if result.path.how == "by hand":
        says = "enters" if result.path.is_inside else "does not enter centered"
        return f"Path chosen by hand: {says}"
    if result.is_fixed:
        return f"The path of insertion is fixed by {' and '.join(result.fixed_by)}"
    return "Path of insertion found"


def _show_path(console: Console, path: PathAnswer) -> None:
    tilt = path.tilt
    x, y, z = path.seat_direction
    console.print(f"    {escape(tilt.words)}", soft_wrap=True)
    console.print(
        f"    seen from the side {tilt.posterior_deg:+.2f}, from the front {tilt.left_deg:+.2f} degrees "
        f"(+ leans to the back, to the patient's left); on a table: first axis {tilt.table_first_deg:+.2f}, "
        f"second {tilt.table_second_deg:+.2f}",
        soft_wrap=True,
    )
    console.print(f"    seats along {x:+.5f}, {y:+.5f}, {z:+.5f} in the reference scan's frame", soft_wrap=True)


def _show_window(console: Console, window: PathWindow) -> None:
    name = "males centered" if window.seat == "centered" else "partial free to sit to one side"
    if window.is_empty:
        console.print(f"Window, {name}: none", soft_wrap=True)
        return
    console.print(
        f"Window, {name}: {window.in_radius_deg:.2f} degrees to the nearest limit; "
        f"{window.antero_posterior_deg:.2f} front to back, {window.lateral_deg:.2f} side to side",
        soft_wrap=True,
    )
    for side in window.sides:
        console.print(f"    {side.side:9} {side.reach_deg:6.2f}  {escape(side.feature)}: {escape(side.limit)}")


def _attachment_table(result: PathSurvey) -> Table:
    table = Table(title="Rigid attachments, degrees", title_justify="left", box=None, pad_edge=False)
    for column in ("", "length mm", "gap per side µm", "admits centered", "floating", "path to axis", ""):
        table.add_column(column, overflow="fold")
    fits = {f.id: f for f in result.path.attachments} if result.path is not None else {}
    for a in result.attachments:
        fit = fits.get(a.id)
        table.add_row(
            escape(a.id), f"{a.length_mm:g}", f"{a.gap_per_side_um:g}", f"{a.centered_deg:.2f}",
            f"{a.floating_deg:.2f}", f"{fit.angle_deg:.2f}" if fit else "", fit.says if fit else "",
        )  # fmt: skip
    return table


def _show_holds(console: Console, path: PathAnswer) -> None:
    for plane in path.planes:
        extra = f", {plane.undercut_mm:.2f} mm undercut at its foot" if plane.says == "leans in" else ""
        console.print(f"{escape(plane.id)} on {plane.tooth}: {plane.says} {abs(plane.opens_deg):.1f} degrees{extra}")
    for clasp in path.clasps:
        reads = f"reads {clasp.reads_mm:.2f} mm ({clasp.how})" if clasp.reads_mm is not None else "not read"
        console.print(
            f"{escape(clasp.clasp)} on {clasp.tooth}: {reads}, wants {clasp.wanted_mm:.2f} mm"
            f"{': ' + clasp.says if clasp.reads_mm is not None else ''}",
            soft_wrap=True,
        )


def _show_framework(console: Console, framework: FrameworkSurvey) -> None:
    seating = framework.seating
    if seating is not None:
        says = "seats" if seating.enters else f"stops {seating.stops_short_mm:.2f} mm short of its seat"
        console.print(f"[bold]The framework {says}[/bold] along this path")
    if not framework.regions:
        console.print(f"    it enters along none of {framework.n_tried} directions tried")
    for k, region in enumerate(framework.regions, start=1):
        console.print(
            f"    window {k}: {region.in_radius_deg:.2f} degrees to the nearest limit, "
            f"{region.antero_posterior_deg:.2f} front to back, {region.lateral_deg:.2f} side to side",
            soft_wrap=True,
        )
        for side in region.sides:
            opening = f", {side.opening_um_per_deg:.0f} µm for a degree more" if side.opening_um_per_deg else ""
            console.print(f"        {side.side:9} {side.reach_deg:6.2f}  {escape(side.place)}{opening}", soft_wrap=True)


def _show_measures(console: Console, result: PathSurvey) -> None:
    path = result.path
    if path is None or path.measures is None:
        return
    table = Table(title="What the path costs, and one degree more", title_justify="left", box=None, pad_edge=False)
    for column in ("", "here", *(t.side for t in path.trade_offs), "weight"):
        table.add_column(column, overflow="fold", justify="left" if not column else "right")
    for measure in MEASURES:
        offs = [getattr(t, measure.name, None) for t in path.trade_offs]
        changes = [f"{o:+.2f}" if o is not None else "" for o in offs]
        here, weight = getattr(path.measures, measure.name), getattr(result.weights, measure.name)
        table.add_row(f"{measure.name.replace('_', ' ')}, {measure.unit}", f"{here:.2f}", *changes, f"{weight:g}")
    console.print(table)
    console.print(
        f"    {'; '.join(f'{m.name.replace(chr(95), chr(32))}: {m.words}' for m in MEASURES)}", soft_wrap=True
    )
    outside = [t.side for t in path.trade_offs if not t.admitted]
    if outside:
        console.print(f"    one degree to {', '.join(outside)} is not admitted", soft_wrap=True)
