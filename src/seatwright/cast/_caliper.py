"""The caliper check: repeated distances between marks in the mouth and on the cast, and whether any mark moved."""

import math
from collections.abc import Sequence
from dataclasses import replace

from seatwright.cast._caliper_asked import CaliperAsked, CaliperReading, Epoch
from seatwright.cast._caliper_change import EpochChange, compare_epochs
from seatwright.cast._caliper_epochs import EpochNetwork, Figure, choose_figure
from seatwright.cast._caliper_marks import (
    Movements,
    expect_movements,
    leave_open,
    measure_movements,
)
from seatwright.cast._caliper_notes import finish_result
from seatwright.cast._caliper_pairs import report_pairs
from seatwright.cast._caliper_readings import (
    MeanDistance,
    Worth,
    find_slips,
    gather_cells,
    study_operators,
    weigh_readings,
)
from seatwright.cast._caliper_result import CaliperResult, ChangeReport, EpochReport
from seatwright.cast._caliper_sketch import orient_figure
from seatwright.cast._caliper_zero import find_zero_shift
from seatwright.errors import ValueOutOfRange
from seatwright.findings import Verdict

__all__ = ["check_caliper"]


def check_caliper(readings: Sequence[CaliperReading], asked: CaliperAsked | None = None) -> CaliperResult:
    """Judge whether marks moved between two epochs, from distances read by hand.

    Parameters
    ----------
    readings : sequence of CaliperReading
        Distances in mm between named marks, read in the mouth (or on the index) and on the cast, each several times.
    asked : CaliperAsked, optional

    Returns
    -------
    CaliperResult
        Also when only one epoch was read: then nothing is judged, and it says how small a movement would be found.

    Raises
    ------
    ValueOutOfRange
        For a tolerance or uncertainty out of range, readings of both mouth and index, or an unknown stable mark.
    CannotCompute
        If nothing was repeated and no uncertainty is declared, or there are more marks than are taken.

    Notes
    -----
    Both epochs are adjusted as free networks in one datum (inner constraints). The whole figure is tested for
    congruency; if it fails, the largest set of marks that kept its figure holds the frame, and every mark is judged
    against the others of that set. Movements that change no distance (a mirrored figure, a lift out of a flat figure)
    cannot be seen.

    References
    ----------
    .. [1] Koch KR. Parameter Estimation and Hypothesis Testing in Linear Models, 2nd ed. 1999, 3.3 and 4.2.
    .. [2] Caspary WF. Concepts of Network and Deformation Analysis, 1987, chapters 8 to 10.
    """
    asked = asked or CaliperAsked()
    _require_sane(readings, asked)
    cells = gather_cells(readings)
    slips = find_slips(cells)
    counted = [r for r in readings if not any(r is slip for slip in slips)]
    cells = gather_cells(counted)
    gauge = study_operators(cells, asked.tolerance_um)
    worth = weigh_readings(cells, asked, gauge)
    epochs = _common_distances(worth)
    figure = choose_figure(epochs, dof=worth.dof, n_axes=asked.n_axes)
    change = compare_epochs(figure, dof=worth.dof) if figure is not None and len(epochs) == 2 else None
    movements = _movements(figure, change, asked, worth)
    pairs = report_pairs(worth, asked, figure, change)
    zero = find_zero_shift(pairs, dof=worth.dof)
    is_judged = len(epochs) == 2 and zero is None
    if movements is not None and zero is not None:
        movements = leave_open(movements)
    result = CaliperResult(
        verdict=_overall(movements, _loose_marks(figure, readings)) if is_judged else Verdict.CANNOT_TELL,
        headline="",
        reference=Epoch.INDEX if any(r.epoch is Epoch.INDEX for r in readings) else Epoch.MOUTH,
        n_axes=figure.n_axes if figure is not None else 0,
        n_axes_because=figure.because if figure is not None else "the distances fix no figure",
        marks=movements.marks if movements is not None else (),
        pairs=pairs,
        epochs=(),
        spread=replace(worth.spread, inflation=change.inflation if change is not None else 1.0),
        change=_change_report(change),
        stable=movements.stable if movements is not None and len(epochs) == 2 else None,
        scale_percent=movements.scale_percent if movements is not None and len(epochs) == 2 else None,
        zero_um=zero,
        blind=movements.blind if movements is not None else (),
        loose=_loose_marks(figure, readings),
        gauge=gauge,
        asked=asked,
        findings=(),
    )
    result = replace(result, epochs=_epoch_reports(figure, worth, result.reference))
    return finish_result(result, readings, slips)


def _require_sane(readings: Sequence[CaliperReading], asked: CaliperAsked) -> None:
    if not readings:
        raise ValueOutOfRange("there are no readings", hint="write at least three marks' distances")
    if not (asked.tolerance_um > 0 and math.isfinite(asked.tolerance_um)):
        raise ValueOutOfRange(f"the tolerance must be above 0 µm, got {asked.tolerance_um}")
    for name, value in (("the declared uncertainty", asked.u_distance_um), ("the reseating", asked.reseat_um)):
        if not 0 <= value < math.inf:
            raise ValueOutOfRange(f"{name} must be 0 µm or more, got {value}")
    if asked.n_axes not in (None, 1, 2, 3):
        raise ValueOutOfRange(f"marks are placed in 1, 2 or 3 dimensions, not in {asked.n_axes}")
    kinds = {r.epoch for r in readings}
    if {Epoch.MOUTH, Epoch.INDEX} <= kinds:
        raise ValueOutOfRange("mouth and index are both read", hint="compare the cast with one of them at a time")
    for r in readings:
        if not (math.isfinite(r.length_mm) and r.length_mm > 0) or r.first == r.second:
            raise ValueOutOfRange(f"{r.first} to {r.second}: {r.length_mm} mm is no distance between two marks")


def _common_distances(worth: Worth) -> tuple[dict[tuple[str, str], MeanDistance], ...]:
    """Return the distances of each epoch that was read; of two, those that both hold, so that both see the same."""
    if not (worth.reference and worth.cast):
        return (worth.reference or worth.cast,)
    common = [pair for pair in worth.reference if pair in worth.cast]
    return tuple({pair: side[pair] for pair in common} for side in (worth.reference, worth.cast))


def _movements(
    figure: Figure | None, change: EpochChange | None, asked: CaliperAsked, worth: Worth
) -> Movements | None:
    if figure is None:
        return None
    orient, _ = orient_figure(figure.networks[0].fit.points_mm, figure.marks)
    if change is None:
        return expect_movements(figure, replace(asked, stable=()), orient, dof=worth.dof)
    return measure_movements(figure, change, asked, orient)


def _overall(movements: Movements | None, loose: tuple[str, ...]) -> Verdict:
    if movements is None:
        return Verdict.CANNOT_TELL
    verdicts = {mark.judged.verdict for mark in movements.marks} | ({Verdict.CANNOT_TELL} if loose else set())
    for verdict in (Verdict.DOES_NOT_CONFORM, Verdict.CANNOT_TELL):
        if verdict in verdicts:
            return verdict
    return Verdict.CONFORMS


def _epoch_reports(figure: Figure | None, worth: Worth, reference: Epoch) -> tuple[EpochReport, ...]:
    if figure is None:
        return ()
    kinds = [reference] if worth.reference else []
    kinds += [Epoch.CAST] if worth.cast else []
    return tuple(_epoch_report(kind, network) for kind, network in zip(kinds, figure.networks, strict=True))


def _change_report(change: EpochChange | None) -> ChangeReport | None:
    if change is None:
        return None
    return ChangeReport(change.test, tuple(f"{a} to {b}" for a, b in change.suspects))


def _epoch_report(kind: Epoch, network: EpochNetwork) -> EpochReport:
    return EpochReport(
        epoch=kind,
        n_distances=len(network.pairs),
        n_redundant=network.fit.n_redundant,
        defect=network.fit.defect,
        test=network.test,
        suspects=tuple(f"{a} to {b}" for a, b in network.suspects),
        mirrored=network.mirrored,
        converged=network.fit.converged,
    )


def _loose_marks(figure: Figure | None, readings: Sequence[CaliperReading]) -> tuple[str, ...]:
    placed = figure.marks if figure is not None else ()
    return tuple(n for n in dict.fromkeys(n for r in readings for n in (r.first, r.second)) if n not in placed)
