"""What each command does: parse its options, call one workflow, hand the answer to the printer."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from seatwright import wiring
from seatwright.cast import CastQuestion, CastResult, expect_reseat_um
from seatwright.cli import _show
from seatwright.cli._boundary import EXIT_NOT_CONFORMING
from seatwright.cli._moment import parse_now
from seatwright.errors import InputError
from seatwright.findings import Finding, Severity, Verdict
from seatwright.workflows.envelope import encode_json, make_envelope
from seatwright.workflows.results import CastStep

__all__ = ["LooseScans", "run_cast", "run_demo", "run_dies", "run_dossier", "run_pour"]


@dataclass(frozen=True, slots=True)
class LooseScans:
    """Scans given by file instead of by case."""

    reference: Path | None
    poured: tuple[Path, ...]
    """Scans of the same poured cast."""
    unit_regions: Path | None
    tolerance_um: float
    repeatability_um: float
    length_unit: str
    stable: tuple[str, ...] = ()
    """Units that hold the frame by the user's word; for a case too."""
    reseated: tuple[str, ...] = ()
    """Units whose crowns were off and put back between the scans."""
    length_error_um_per_mm: float = 0.0


def _exit_code(findings: tuple[Finding, ...], *, strict: bool) -> int:
    return EXIT_NOT_CONFORMING if strict and any(f.severity is Severity.STOP for f in findings) else 0


def run_dies(case: Path, *, now: str | None, strict: bool, as_json: bool) -> int:
    """Run `seatwright dies`."""
    from seatwright.workflows.plan import plan_case

    plan = plan_case(wiring.open_case(case), now=parse_now(now), clock=wiring.SystemClock())
    if as_json:
        _show.print_json(
            make_envelope("dies", inputs=plan.bundle.inputs, result=plan.dies, findings=plan.dies.findings)
        )
    else:
        _show.show_dies(plan)
    return _exit_code(plan.dies.findings, strict=strict)


def run_pour(case: Path, *, now: str | None, strict: bool, as_json: bool) -> int:
    """Run `seatwright pour`."""
    from seatwright.workflows.plan import plan_case

    plan = plan_case(wiring.open_case(case), now=parse_now(now), clock=wiring.SystemClock())
    if as_json:
        _show.print_json(
            make_envelope("pour", inputs=plan.bundle.inputs, result=plan.pour, findings=plan.pour.findings)
        )
    else:
        _show.show_pour(plan)
    return _exit_code(plan.pour.findings, strict=strict)


def run_cast(
    case: Path | None, loose: LooseScans, out: Path | None, *, now: str | None, strict: bool, as_json: bool
) -> int:
    """Run `seatwright cast` on a case or on loose files."""
    if out is not None:
        wiring.folder_store(out.resolve().parent).require_free(out.resolve().name)
    if case is None:
        return _run_loose_cast(loose, out, strict=strict, as_json=as_json)
    if loose.reference or loose.unit_regions or loose.reseated:
        raise InputError(
            "a case and loose files cannot be mixed",
            hint="CASE with --poured for repeat scans of its cast, or loose files alone; reseated stands in its scan",
        )
    from seatwright.forecast import Choices
    from seatwright.workflows.cast_check import check_case_casts
    from seatwright.workflows.forecast import choices_from_plan
    from seatwright.workflows.plan import plan_case

    source = wiring.open_case(case)
    plan = plan_case(source, now=parse_now(now), clock=wiring.SystemClock())
    bundle, choices = plan.bundle, choices_from_plan(plan, Choices())
    read = wiring.read_scans(loose.poured, "--poured", loose.length_unit)
    repeats = tuple(surface for surface, _ in read)
    with _show.progress_bar() as progress:
        steps, files = check_case_casts(
            source, bundle, stable=loose.stable, repeats=repeats, choices=choices, progress=progress
        )
    files = (*files, *(file for _, file in read))
    findings = tuple(f for step in steps for f in step.result.findings)
    last = steps[-1].result
    envelope = make_envelope("cast", inputs=(*bundle.inputs, *files), result=last, findings=findings)
    folder = _write_pictures(steps, envelope, out)
    titled = [(s.result, f"{s.poured_scan.id} against {s.reference_scan.id}") for s in steps]
    _tell_casts(titled, envelope, folder, as_json=as_json)
    return _cast_exit([step.result for step in steps], strict=strict)


def _run_loose_cast(loose: LooseScans, out: Path | None, *, strict: bool, as_json: bool) -> int:
    wanted = {"--reference": loose.reference, "--poured": loose.poured, "--unit-regions": loose.unit_regions}
    missing = [name for name, path in wanted.items() if not path]
    if missing or not (loose.reference and loose.poured and loose.unit_regions):
        raise InputError(
            "needs a CASE, or loose files: " + ", ".join(missing) + " missing", hint="see: seatwright cast --help"
        )
    from seatwright.workflows.cast_check import check_surfaces, name_cast_step

    scans = wiring.read_loose_scans(loose.reference, loose.poured, loose.unit_regions, length_unit=loose.length_unit)
    with _show.progress_bar() as progress:
        result = check_surfaces(
            scans.reference,
            scans.poured,
            scans.regions,
            tolerance_um=loose.tolerance_um,
            repeatability_um=loose.repeatability_um,
            question=CastQuestion(
                stable=loose.stable,
                reseats_um=dict.fromkeys(loose.reseated, expect_reseat_um()),
                length_error_um_per_mm=loose.length_error_um_per_mm,
            ),
            progress=progress,
        )
    envelope = make_envelope("cast", inputs=scans.inputs, result=result, findings=result.findings)
    folder = None
    if out is not None:
        folder = _write_pictures(
            [name_cast_step(result, scans.reference, scans.poured[0], scans.regions)], envelope, out
        )
    _tell_casts([(result, "poured cast against reference")], envelope, folder, as_json=as_json)
    return _cast_exit([result], strict=strict)


def _write_pictures(steps: Sequence[CastStep], envelope: Mapping[str, object], out: Path | None) -> str | None:
    if out is None:
        return None
    with _show.progress_bar() as progress:
        text = encode_json(envelope, indent=1).encode()
        return wiring.write_cast_pictures(out, steps, envelope_json=text, progress=progress)


def _tell_casts(
    titled: Sequence[tuple[CastResult, str]], envelope: Mapping[str, object], folder: str | None, *, as_json: bool
) -> None:
    if as_json:
        _show.print_json(envelope)
        return
    for result, title in titled:
        _show.show_cast(result, title)
    if folder is not None:
        _show.say(f"The pictures are in {folder}")


def _cast_exit(results: Sequence[CastResult], *, strict: bool) -> int:
    units = [unit for result in results for unit in result.units]
    failed = any(unit.verdict is Verdict.DOES_NOT_CONFORM for unit in units)
    return EXIT_NOT_CONFORMING if strict and failed else 0


def run_dossier(case: Path, out: Path | None, *, now: str | None, strict: bool, as_json: bool) -> int:
    """Run `seatwright dossier`."""
    from seatwright.workflows.dossier import dossier_envelope, write_dossier

    target = (out or wiring.dossier_place(case)).resolve()
    with _show.progress_bar() as progress:
        dossier, folder = write_dossier(
            wiring.open_case(case),
            target.name,
            printer=wiring.dossier_printer(),
            store=wiring.folder_store(target.parent),
            now=parse_now(now),
            clock=wiring.SystemClock(),
            progress=progress,
        )
    if as_json:
        _show.print_json(dossier_envelope(dossier))
    else:
        _show.show_dossier(dossier, folder)
    return _exit_code(dossier.findings, strict=strict)


def run_demo(out: Path, *, as_json: bool) -> int:
    """Run `seatwright demo`: write the case, then its dossier."""
    from seatwright.workflows.dossier import dossier_envelope, write_dossier

    target = out.resolve()
    with _show.progress_bar() as progress:
        case_folder = wiring.write_demo_case(target / "case", progress=progress.part(0.0, 0.4))
        dossier, folder = write_dossier(
            wiring.open_case(Path(case_folder)),
            "dossier",
            printer=wiring.dossier_printer(),
            store=wiring.folder_store(target),
            now=None,
            clock=wiring.SystemClock(),
            progress=progress.part(0.4, 1.0),
        )
    if as_json:
        _show.print_json(dossier_envelope(dossier))
    else:
        _show.show_dossier(dossier, folder)
        _show.say(f"The case is in {case_folder}")
    return 0
