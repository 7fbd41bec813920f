"""What `seatwright survey` writes and prints of a surface along its path, for a case and for a loose surface alike."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.table import Table

from seatwright import wiring
from seatwright.arch import OcclusalFrame
from seatwright.errors import ConflictError, InputError
from seatwright.mesh import Surface
from seatwright.quantities import FloatArray
from seatwright.survey import Quality, ReliefAsked
from seatwright.workflows.survey import BenchAsked, SurfaceSurvey, undercut_properties

__all__ = ["TypedBench", "parse_marks", "parse_numbers", "require_clearance", "show_bench", "write_bench"]

_MOST_CLEARANCE_UM = 500.0  # judgement: more room than that is no fit
_SOLID_ENDINGS = (".stl", ".3mf", ".glb", ".ply")


@dataclass(frozen=True, slots=True)
class TypedBench:
    """Options on the surface along its path, as typed."""

    undercut_map: Path | None = None
    max_undercut_mm: float = 2.0
    quality: str = "gauge"
    block_out: Path | None = None
    taper_deg: float | None = None
    ledges: tuple[str, ...] = ()
    reliefs: tuple[str, ...] = ()
    relief_out: Path | None = None
    undercut_svg: Path | None = None

    def read(self, *, slack_mm: float | None = None, has_plan: bool = False) -> BenchAsked:
        """Return what is asked, in numbers; InputError naming the option that cannot be read.

        A plan may bring its own pads of relief.
        """
        self._check_targets()
        wants_fill = self.block_out is not None or self.ledges
        if self.relief_out is not None and not self.reliefs and not has_plan:
            raise InputError("--relief-out without a pad", hint="add --relief GAUGE:REACH:X,Y,Z")
        return BenchAsked(
            max_undercut_mm=self.max_undercut_mm,
            quality=_read_quality(self.quality),
            slack_mm=slack_mm,
            taper_deg=0.0 if wants_fill and self.taper_deg is None else self.taper_deg,
            tips_mm=parse_marks(self.ledges, "--ledge"),
            reliefs=tuple(_read_relief(text) for text in self.reliefs),
        )

    @property
    def is_asked(self) -> bool:
        """Whether anything is asked that needs a surface."""
        outs = (self.undercut_map, self.block_out, self.taper_deg, self.relief_out, self.undercut_svg)
        return bool(self.ledges or self.reliefs or any(out is not None for out in outs))

    def targets(self) -> dict[str, tuple[Path | None, tuple[str, ...]]]:
        """Return each file that is to be written, by its option, with the endings that it may have."""
        return {
            "--undercut-map": (self.undercut_map, (".ply",)),
            "--block-out": (self.block_out, _SOLID_ENDINGS),
            "--relief-out": (self.relief_out, _SOLID_ENDINGS),
            "--undercut-svg": (self.undercut_svg, (".svg",)),
        }

    def require_apart_from(self, mesh: Path) -> None:
        """Refuse to write over the surface itself."""
        for name, (target, _) in self.targets().items():
            if target is not None and target.exists() and mesh.exists() and target.samefile(mesh):
                raise ConflictError(f"{name} {target} is the surface itself", hint="give another name")

    def _check_targets(self) -> None:
        for name, (target, endings) in self.targets().items():
            if target is not None and target.suffix.lower() not in endings:
                raise InputError(
                    f"{name} {target} cannot be written", hint="give a name ending in " + ", ".join(endings)
                )


def require_clearance(clearance_um: float) -> None:
    """Refuse a room that is no fit."""
    if not 0.0 <= clearance_um <= _MOST_CLEARANCE_UM:
        raise InputError(
            f"--clearance-um {clearance_um:g} is not between 0 and {_MOST_CLEARANCE_UM:g}",
            hint="the room on each side that the framework's fit leaves, µm",
        )


def _read_quality(text: str) -> Quality:
    try:
        return Quality(text)
    except ValueError as error:
        raise InputError(f"no quality '{text}'", hint="display or gauge") from error


def _read_relief(text: str) -> ReliefAsked:
    parts = text.split(":")
    if len(parts) < 3:
        raise InputError(
            f"--relief {text!r} is not GAUGE:REACH:X,Y,Z", hint="such as 30:3:12.0,-4.5,6.0; more points make a strip"
        )
    gauge = parse_numbers(parts[0], "--relief", count=1)
    reach = parse_numbers(parts[1], "--relief", count=1)
    if gauge is None or reach is None or gauge[0] != int(gauge[0]):
        raise InputError(f"--relief {text!r}: a wire gauge is a whole number", hint="24 to 30 are usual")
    return ReliefAsked(int(gauge[0]), reach[0], np.array(parse_marks(parts[2:], "--relief")))


def parse_marks(texts: Sequence[str], option: str) -> tuple[FloatArray, ...]:
    """Read places X,Y,Z; InputError naming the option otherwise."""
    return tuple(np.array(parse_numbers(text, option, count=3)) for text in texts)


def parse_numbers(text: str | None, option: str, *, count: int) -> tuple[float, ...] | None:
    """Read numbers between commas; InputError naming the option otherwise."""
    if text is None:
        return None
    parts = text.split(",")
    try:
        numbers = tuple(float(p) for p in parts)
    except ValueError as error:
        raise InputError(
            f"{option} {text!r} is not {count} numbers", hint="numbers between commas, no units"
        ) from error
    if not np.isfinite(numbers).all():
        raise InputError(f"{option} {text!r} is not finite", hint="numbers between commas, no units")
    if len(numbers) != count:
        raise InputError(f"{option} {text!r} holds {len(numbers)} numbers, not {count}", hint="numbers between commas")
    return numbers


def write_bench(
    survey: SurfaceSurvey, typed: TypedBench, name: str, *, frame: OcclusalFrame | None = None
) -> list[str]:
    """Write what was asked for; return a sentence on each file. A frame lays the picture as the arch sheet lies."""
    said = []
    if typed.undercut_map is not None:
        wiring.write_surface(typed.undercut_map, survey.written, undercut_properties(survey))
        said.append(f"The undercut of each vertex is in {typed.undercut_map} (undercut_mm, undercut_flag)")
    solids = survey.fill.solids if survey.fill is not None else ()
    pads = tuple(pad.solid for pad in survey.pads)
    for target, parts, what in ((typed.block_out, solids, "block-out"), (typed.relief_out, pads, "relief")):
        said += _write_solids(target, parts, what)
    if typed.undercut_svg is not None:
        from seatwright.figures import draw_undercut_map  # noqa: PLC0415 - drawn only when asked

        drawn = draw_undercut_map(survey.field, survey.lines, survey.tripod, name=name, frame=frame)
        wiring.write_output(typed.undercut_svg, drawn.encode("utf-8"), may_replace=True)
        said.append(f"The picture of the undercuts is in {typed.undercut_svg}")
    return said


def _write_solids(target: Path | None, solids: tuple[Surface, ...], what: str) -> list[str]:
    if target is None:
        return []
    if not solids:
        return [f"Nothing for {what}: no file was written"]
    wiring.write_solids(target, solids)
    return [f"The {what} is in {target}"]


def show_bench(survey: SurfaceSurvey, name: str) -> None:
    """Print path, undercuts in bands, survey lines, tripod marks, block-out, relief and what to do in wax."""
    console = Console(highlight=False)
    report = survey.report
    seat = ", ".join(f"{k:.4f}" for k in survey.path.seat_direction)
    console.print(f"[bold]Undercuts of {report.undercut_volume_mm3:.0f} mm³ along the path[/bold]", soft_wrap=True)
    console.print(f"    {name}, seating along ({seat}), {report.quality.value} quality", soft_wrap=True, markup=False)
    counts = ", ".join(f"{count} {word}" for word, count in report.n_by_flag.items())
    console.print(f"    vertices: {counts}; looked for up to {report.max_undercut_mm:g} mm", soft_wrap=True)
    table = Table(box=None, pad_edge=False)
    for column in ("undercut, mm", "area, mm²", "its upper line, mm"):
        table.add_column(column, justify="right")
    for band in report.bands:
        table.add_row(f"{band.from_mm:.2f} to {band.to_mm:.2f}", f"{band.area_mm2:.1f}", f"{band.line_length_mm:.1f}")
    table.add_row(f"over {report.max_undercut_mm:.2f}, or not reached", f"{report.beyond_area_mm2:.1f}", "")
    console.print(table)
    console.print(
        f"Survey lines: {report.n_survey_lines}, {report.survey_line_length_mm:.1f} mm in all"
        f" ({report.n_short_lines} shorter than 1 mm left out)",
        soft_wrap=True,
    )
    _show_tripod(console, survey)
    _show_wax(console, survey)


def _show_tripod(console: Console, survey: SurfaceSurvey) -> None:
    marks = survey.tripod
    if marks is None:
        console.print("Tripod marks: nothing free and steep enough for three of them")
        return
    places = "; ".join(", ".join(f"{k:.1f}" for k in point) for point in marks.points_mm)
    console.print(f"Tripod marks at ({places})", soft_wrap=True)
    console.print(
        f"    they bring the tilt back to ±{2 * marks.u_retilt_deg[0]:.2f} degree (95 %), "
        f"if each is good to {marks.u_mark_mm:g} mm (judgement)",
        soft_wrap=True,
    )


def _show_wax(console: Console, survey: SurfaceSurvey) -> None:
    fill = survey.fill
    if fill is not None:
        ledges = f", {fill.n_ledges} ledge{'s' if fill.n_ledges != 1 else ''}" if fill.n_ledges else ""
        console.print(f"Block-out at {fill.taper_deg:g} degrees{ledges}: {fill.volume_mm3:.0f} mm³", soft_wrap=True)
    for pad in survey.pads:
        console.print(
            f"Relief of {pad.thickness_mm:.3f} mm: {pad.area_mm2:.1f} mm², {pad.volume_mm3:.1f} mm³", soft_wrap=True
        )
    if survey.wax_steps:
        console.print("In wax:")
    for number, step in enumerate(survey.wax_steps, start=1):
        console.print(f"  {number}. {step}", soft_wrap=True)
