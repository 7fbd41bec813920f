"""Movements, intervals and deviation of a cast check as drawings."""

import re
from base64 import b64decode
from dataclasses import replace
from io import BytesIO

import numpy as np
import pytest
from PIL import Image
from scipy.spatial.transform import Rotation
from tests.dossiers import MOVEMENTS, make_cast, make_movement
from tests.unit.figures.reading import SVG, overlapping_texts, parse, texts_outside

from seatwright.arch import nominal_layout
from seatwright.case import Arch
from seatwright.figures import (
    draw_deviation,
    draw_deviation_legend,
    draw_intervals,
    draw_movements,
    fit_drawing_axes,
    place_legend_mm,
)
from seatwright.figures._deviation import view_of_cast
from seatwright.findings import Verdict


def lost(tooth: int) -> object:
    """Return a unit that could not be measured."""
    return replace(
        make_movement(tooth),
        is_measured=False, shift_mm=None, turn_deg=None, u_shift_mm=None, u_turn_deg=None, covariance=None,
        u_worst_mm=None, verdict=Verdict.CANNOT_TELL,
    )  # fmt: skip


def test_intervals_and_movements_are_legible() -> None:
    for svg in (draw_intervals(make_cast()), draw_movements(make_cast())):
        assert overlapping_texts(svg) == []
        assert texts_outside(svg) == []


def test_interval_of_a_unit_is_drawn_to_scale() -> None:
    svg = draw_intervals(make_cast())
    root = parse(svg)
    ticks = {
        float(e.text): float(e.get("x", "0"))
        for e in root.iter(f"{SVG}text")
        if (e.text or "").isdigit() and e.get("font-size") == "3.2"
    }
    per_um = (ticks[200] - ticks[0]) / 200
    mark = next(r for r in root.iter(f"{SVG}rect") if r.get("class") == "s-accent f-accent")
    center = float(mark.get("x", "0")) + float(mark.get("width", "0")) / 2
    expected = 1000 * np.linalg.norm(MOVEMENTS[43][0])
    assert abs((center - ticks[0]) / per_um - expected) < 0.5


def test_movement_arrows_are_enlarged_by_the_stated_factor() -> None:
    svg = draw_movements(make_cast())
    root = parse(svg)
    factor = float(re.search(r"arrows (\d+) times life size", svg).group(1))  # type: ignore[union-attr]
    assert f"drawn {factor:g} times larger" in (root.findtext(f"{SVG}title") or "")
    circles = [c for c in root.iter(f"{SVG}circle") if c.get("stroke-dasharray")]
    assert {float(c.get("r", "0")) for c in circles} == {0.050 * factor}
    assert len(circles) == len(MOVEMENTS)


def test_movement_is_drawn_the_same_whatever_the_pose_of_the_scan() -> None:
    turn = Rotation.from_euler("xyz", [130, -40, 75], degrees=True).as_matrix()
    cast = make_cast()
    turned = tuple(
        replace(u, shift_mm=turn @ u.shift_mm, about_mm=turn @ u.about_mm + 50, covariance=_turned(u.covariance, turn))
        for u in cast.result.units
    )
    posed = replace(cast, result=replace(cast.result, units=turned))
    numbers = [np.array([float(v) for v in re.findall(r"-?\d+\.?\d*", draw_movements(c))]) for c in (cast, posed)]
    np.testing.assert_allclose(numbers[0], numbers[1], atol=0.02)


def _turned(covariance: np.ndarray, turn: np.ndarray) -> np.ndarray:
    both = np.kron(np.eye(2), turn)
    return both @ covariance @ both.T


def test_a_unit_that_was_not_measured_is_named_and_not_drawn() -> None:
    units = (*make_cast().result.units[:-1], lost(45))
    cast = make_cast(units=units)
    assert "45: not measured, cannot tell." in draw_intervals(cast)
    assert len([c for c in parse(draw_movements(cast)).iter(f"{SVG}circle") if c.get("stroke-dasharray")]) == 7


def test_no_unit_measured_still_draws() -> None:
    cast = make_cast(units=tuple(lost(t) for t in MOVEMENTS))
    for svg in (draw_intervals(cast), draw_movements(cast), draw_deviation(cast, width_px=120)):
        parse(svg)


def test_drawing_axes_follow_the_pose_of_the_scan() -> None:
    for arch, up in ((Arch.MANDIBLE, 1.0), (Arch.MAXILLA, -1.0)):
        layout = nominal_layout(arch)
        turn = Rotation.from_rotvec([0.4, -1.9, 0.7]).as_matrix()
        flat = {t: np.array([p.x_mm, p.y_mm, 3.0]) for t, p in layout.items() if t % 10 in (3, 6, 7)}
        axes = fit_drawing_axes({t: turn @ at + 7.0 for t, at in flat.items()}, arch)
        assert axes is not None
        np.testing.assert_allclose(axes @ turn, np.diag([1.0, 1.0, up]), atol=1e-9)


def test_drawing_axes_are_refused_for_too_few_units_or_a_line() -> None:
    layout = nominal_layout(Arch.MANDIBLE)
    two = {t: np.array([layout[t].x_mm, layout[t].y_mm, 0.0]) for t in (36, 46)}
    assert fit_drawing_axes(two, Arch.MANDIBLE) is None
    line = {t: np.array([10.0 * k, 0.0, 0.0]) for k, t in enumerate((34, 35, 36))}
    assert fit_drawing_axes(line, Arch.MANDIBLE) is None


def test_deviation_shows_proud_spots_brown_at_their_place() -> None:
    svg = draw_deviation(make_cast(), width_px=300)
    root = parse(svg)
    href = next(root.iter(f"{SVG}image")).get("href", "")
    picture = np.asarray(Image.open(BytesIO(b64decode(href.removeprefix("data:image/png;base64,"))))).astype(int)
    brown = picture[..., 0] - picture[..., 2]
    row, column = np.unravel_index(np.argmax(brown), brown.shape)
    # The bump stands at x = -12 of -34..34 and y = 6 of -6..50; the front of a mandible is at the foot of the page.
    assert abs(column / picture.shape[1] - 22 / 68) < 0.06
    assert abs(row / picture.shape[0] - 44 / 56) < 0.08
    assert brown.max() > 60
    assert "µm" in [e.text for e in root.iter(f"{SVG}text")]
    assert overlapping_texts(svg) == []


def test_legend_plate_lies_below_the_arch_and_reads_as_the_picture_does() -> None:
    cast = make_cast()
    svg, notes = draw_deviation_legend(cast)
    assert overlapping_texts(svg) == texts_outside(svg) == []
    assert notes["brown_um"] == -float(notes["blue_um"])
    assert f"+{notes['brown_um']:g}" in svg
    corners = place_legend_mm(cast, 0.2)
    axes = view_of_cast(cast).axes()
    seen, arch = corners @ axes.T, cast.reference.vertices_mm @ axes.T
    assert seen[:, 1].max() < arch[:, 1].min()
    assert seen[1, 0] - seen[0, 0] == pytest.approx(np.ptp(arch[:, 0]))
    assert seen[3, 1] - seen[0, 1] == pytest.approx(0.2 * np.ptp(arch[:, 0]))
    assert np.ptp(seen[:, 2]) == pytest.approx(0, abs=1e-9)
