"""The options of ``seatwright survey``. Imports nothing heavy: the command loads what it needs when it runs."""

from pathlib import Path
from typing import Annotated

import typer

from seatwright.cli._options import AsJson, Now, Strict

__all__ = ["survey"]


def survey(
    case: Annotated[Path | None, typer.Argument(metavar="[CASE]", help="Case folder; or give --mesh.")] = None,
    mesh: Annotated[Path | None, typer.Option("--mesh", metavar="FILE", help="A loose surface: STL, PLY, OBJ.")] = None,
    max_tilt_deg: Annotated[
        float, typer.Option("--max-tilt-deg", metavar="DEG", help="Search paths up to this tilt.")
    ] = 20.0,
    path: Annotated[
        str | None, typer.Option("--path", metavar="X,Y,Z", help="Seat direction, in the scan's or surface's frame.")
    ] = None,
    tilt: Annotated[
        str | None,
        typer.Option(
            "--tilt", metavar="BACK,LEFT", help="Judge this tilt: projected angles to the back and left, deg."
        ),
    ] = None,
    table: Annotated[
        str | None,
        typer.Option("--table", metavar="FIRST,SECOND", help="Judge this tilt as the tilting table reads it, deg."),
    ] = None,
    mandrel: Annotated[
        list[str] | None,
        typer.Option("--mandrel", metavar="ID=FIRST,SECOND", help="Table reading with the mandrel in this attachment."),
    ] = None,
    gauge: Annotated[
        list[str] | None,
        typer.Option(
            "--gauge", metavar="ID=MM", help="Undercut gauge reading at this clasp's tip or guide plane's foot."
        ),
    ] = None,
    occlusal: Annotated[
        str | None,
        typer.Option(
            "--occlusal", metavar="X,Y,Z", help="Occlusal normal, away from the jaw (default: from the units)."
        ),
    ] = None,
    framework: Annotated[
        Path | None,
        typer.Option("--framework", metavar="FILE", help="Framework mesh at its seat, reference scan's frame."),
    ] = None,
    clearance_um: Annotated[
        float, typer.Option("--clearance-um", help="Room per side that the framework's fit leaves.")
    ] = 0.0,
    length_unit: Annotated[str, typer.Option("--length-unit", help="um, mm, cm, m or in (framework, --mesh).")] = "mm",
    undercut_map: Annotated[
        Path | None, typer.Option("--undercut-map", metavar="OUT.ply", help="Write undercut_mm a vertex.")
    ] = None,
    max_undercut_mm: Annotated[float, typer.Option("--max-undercut-mm", help="Deeper ones are only flagged.")] = 2.0,
    quality: Annotated[str, typer.Option("--quality", help="gauge (exact) or display (quick).")] = "gauge",
    weight: Annotated[
        list[str] | None,
        typer.Option("--weight", metavar="NAME=NUMBER", help="How much a measure counts where the path is free."),
    ] = None,
    marks: Annotated[
        list[str] | None,
        typer.Option("--mark", metavar="X,Y,Z", help="Tripod mark, three times, in place of --path."),
    ] = None,
    block_out: Annotated[
        Path | None, typer.Option("--block-out", metavar="FILE", help="Write block-out as STL, 3MF or GLB.")
    ] = None,
    taper_deg: Annotated[
        float | None, typer.Option("--taper-deg", help="Taper of the block-out's walls: 0, 2, 6.")
    ] = None,
    ledge: Annotated[
        list[str] | None,
        typer.Option("--ledge", metavar="X,Y,Z", help="A clasp tip that gets a ledge in the block-out (case: all)."),
    ] = None,
    relief: Annotated[
        list[str] | None,
        typer.Option(
            "--relief", metavar="GAUGE:REACH:X,Y,Z[:...]", help="Relief of this wire gauge, REACH mm about the points."
        ),
    ] = None,
    relief_out: Annotated[
        Path | None, typer.Option("--relief-out", metavar="FILE", help="Write relief pads as STL, 3MF or GLB.")
    ] = None,
    undercut_svg: Annotated[
        Path | None, typer.Option("--undercut-svg", metavar="FILE", help="Also draw the undercuts along the path.")
    ] = None,
    svg: Annotated[
        Path | None, typer.Option("--svg", metavar="FILE", help="Also draw the window (--mesh: the undercuts).")
    ] = None,
    now: Now = None,
    strict: Strict = False,
    as_json: AsJson = False,
) -> int:
    """Find the path of insertion, what it means, and how deep the undercuts are along it; of a case or a loose mesh."""
    from seatwright.cli._survey_bench import TypedBench

    bench = TypedBench(
        undercut_map=undercut_map,
        max_undercut_mm=max_undercut_mm,
        quality=quality,
        block_out=block_out,
        taper_deg=taper_deg,
        ledges=tuple(ledge or ()),
        reliefs=tuple(relief or ()),
        relief_out=relief_out,
        undercut_svg=undercut_svg or (svg if case is None else None),
    )
    if mesh is not None or case is None:
        from seatwright.cli import _survey

        _survey.refuse_plan_options(
            {"--tilt": tilt, "--table": table, "--mandrel": mandrel, "--gauge": gauge, "--weight": weight}
        )
        search = _survey.WindowAsked(max_tilt_deg, framework, clearance_um, length_unit)
        loose = _survey.LooseSurface(mesh, path, tuple(marks or ()), occlusal, length_unit, bench, search)
        return _survey.run_loose_survey(loose, with_case=case is not None, as_json=as_json)
    from seatwright.cli import _survey_case

    typed = _survey_case.TypedSurvey(
        max_tilt_deg=max_tilt_deg,
        path=path,
        tilt=tilt,
        table=table,
        marks=tuple(marks or ()),
        mandrels=tuple(mandrel or ()),
        gauges=tuple(gauge or ()),
        occlusal=occlusal,
        framework=framework,
        clearance_um=clearance_um,
        length_unit=length_unit,
        weights=tuple(weight or ()),
        bench=bench,
    )
    return _survey_case.run_survey_case(case, typed, now=now, svg=svg, strict=strict, as_json=as_json)
