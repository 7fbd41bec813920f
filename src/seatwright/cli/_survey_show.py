"""What `seatwright survey CASE` prints: the path, its window, and what it means. No calculation."""

import numpy as np
from rich.console import Console
from rich.markup import escape
from rich.table import Table

from seatwright.cli import _show
from seatwright.cli._survey_bench import show_bench
from seatwright.quantities import tell_signed
from seatwright.survey import MEASURES, ClaspReading, FrameworkSurvey, PathAnswer, PathSurvey, PathWindow
from seatwright.workflows.survey_case import CaseSurvey

__all__ = ["show_survey"]

_NEXT_BEST = 4  # of those kept; a choice is made among few


def show_survey(answer: CaseSurvey) -> None:
    """Print the path, the window, what it means for each thing planned and at the bench, and the findings."""
    console, result = Console(highlight=False), answer.result
    console.print(f"[bold]{escape(_headline(result))}[/bold]", soft_wrap=True)
    if result.path is not None:
        _show_path(console, result, answer.scan_name)
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
    if result.path.how == "center" and all(side.feature == "search" for side in result.window.sides):
        return "Nothing that is stated limits the path: level is shown, not found"
    if result.is_fixed:
        return f"The path of insertion is fixed by {' and '.join(result.fixed_by)}"
    return "Path of insertion found"


def _show_path(console: Console, result: PathSurvey, scan_name: str) -> None:
    path = result.path
    if path is None:
        return
    tilt = path.tilt
    known = f", to ±{2 * result.frame.u_deg:.1f} (95 %: {result.frame.how})" if result.frame.u_deg > 0 else ""
    frame = "the reference scan's frame" if scan_name else "the patient frame, as the case has no scan"
    x, y, z = path.seat_direction
    console.print(f"    {escape(tilt.words)}", soft_wrap=True)
    console.print(
        f"    seen from the side {tell_signed(tilt.posterior_deg, 2)}, from the front {tell_signed(tilt.left_deg, 2)} "
        f"degrees (+ leans to the back, to the patient's left); on a table: first axis "
        f"{tell_signed(tilt.table_first_deg, 2)}, second {tell_signed(tilt.table_second_deg, 2)}{known}",
        soft_wrap=True,
        markup=False,
    )
    console.print(
        f"    seats along {tell_signed(x, 5)}, {tell_signed(y, 5)}, {tell_signed(z, 5)} in {frame}", soft_wrap=True
    )
    console.print(f"    {path.because}", soft_wrap=True, markup=False)
    for other in result.ranked[1:_NEXT_BEST]:
        score = f"score {other.measures.score:.2f} against {result.ranked[0].measures.score:.2f}"
        console.print(f"    next best: {other.tilt.words}; {score}", soft_wrap=True, markup=False)


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
        opening = "" if side.opening_um_per_deg is None else f"; {side.opening_um_per_deg:.0f} µm a side for 1 more"
        ends = side.limit if side.feature == "search" else f"{side.feature}: {side.limit}"
        console.print(f"    {side.side:9} {side.reach_deg:6.2f}  {escape(ends)}{opening}", soft_wrap=True)


def _attachment_table(result: PathSurvey) -> Table:
    table = Table(title="Rigid attachments, degrees", title_justify="left", box=None, pad_edge=False)
    table.add_column("", no_wrap=True)
    for column in ("length mm", "gap a side µm", "centered", "floating", "path to axis", ""):
        table.add_column(column, overflow="fold", no_wrap=not column)
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
        lean = "" if plane.says == "not read" else f" {abs(plane.opens_deg):.1f} degrees"
        console.print(f"{escape(plane.id)} on {plane.tooth}: {plane.says}{lean}{extra}")
    for clasp in path.clasps:
        wants = f"wants {clasp.wanted_mm:.2f} mm ({clasp.wanted_source.shown()})"
        told = f"{clasp.clasp} on {clasp.tooth}: {_reading(clasp)}; {wants}"
        console.print(told, soft_wrap=True, markup=False)


def _reading(clasp: ClaspReading) -> str:
    if clasp.reads_mm is None:
        return "not read"
    return f"reads {clasp.reads_mm:.2f} ± {2 * clasp.u_mm:.2f} mm (95 %, {clasp.how}): {clasp.says}"


def _show_framework(console: Console, framework: FrameworkSurvey) -> None:
    seating = framework.seating
    if seating is not None:
        says = "seats" if seating.enters else f"stops {seating.stops_short_mm:.2f} mm short of its seat"
        sits = 1000 * float(np.linalg.norm(framework.seat_shift_mm))
        where = f", where it sits {sits:.0f} µm to one side" if sits > 0 else ""
        console.print(f"[bold]The framework {says}[/bold] along this path{where}")
    if not framework.regions:
        console.print(f"    it enters along none of {framework.n_tried} directions tried")
    named = [(f"window {k}", region) for k, region in enumerate(framework.regions, start=1)]
    named += [("with attachments and guide planes", region) for region in framework.shared]
    for name, region in named:
        holes = f", {len(region.holes_deg)} blocked inside" if region.holes_deg else ""
        console.print(
            f"    {name}: {region.in_radius_deg:.2f} degrees to the nearest limit, "
            f"{region.antero_posterior_deg:.2f} front to back, {region.lateral_deg:.2f} side to side, "
            f"{region.solid_angle_deg2:.1f} square degrees{holes}",
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
        changes = [tell_signed(o, 2) if o is not None else "" for o in offs]
        here, weight = getattr(path.measures, measure.name), getattr(result.weights, measure.name)
        table.add_row(f"{measure.name.replace('_', ' ')}, {measure.unit}", f"{here:.2f}", *changes, f"{weight:g}")
    console.print(table)
    console.print(
        f"    {'; '.join(f'{m.name.replace(chr(95), chr(32))}: {m.words}' for m in MEASURES)}", soft_wrap=True
    )
    outside = [t.side for t in path.trade_offs if not t.admitted]
    if outside:
        console.print(f"    one degree to {', '.join(outside)} is not admitted", soft_wrap=True)
