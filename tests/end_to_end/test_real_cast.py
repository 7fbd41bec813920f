"""The whole job on a real scanned cast: invented units, a 'poured' scan derived from it with known movements.

It shows that real surfaces (base, holes, stray triangles, coarse mesh) go through. It validates nothing clinically:
the second scan is computed, not poured.
"""

import json
from pathlib import Path

import numpy as np
import pytest
from tests.examples import demo_bench, metal_ceramic_crown

from seatwright.case import (
    Arch,
    Case,
    Impression,
    ImpressionMaterial,
    ImpressionRole,
    LengthUnit,
    PourPlan,
    Region,
    Route,
    Scan,
    ScanOf,
    ScanRole,
    Stone,
    Teeth,
    Tolerance,
    Tray,
)
from seatwright.files import bench_to_toml, case_to_toml, encode_ply, read_surface
from seatwright.mesh import Surface
from seatwright.quantities import apply_transform, make_transform

# plan positions read off the scan: y across, x from front to back, occlusal side +z; z from the surface itself
PLACES_MM = {
    37: (92.5, -26.0), 36: (83.0, -22.5), 35: (74.5, -20.0), 34: (67.5, -17.0), 33: (61.5, -12.8),
    43: (61.5, 11.5), 44: (68.0, 16.5), 45: (74.5, 20.0), 46: (83.5, 21.0), 47: (92.5, 25.0),
}  # fmt: skip
MOVED, SHIFT_MM, TURN_RAD = 35, np.array([0.05, -0.04, 0.16]), np.radians([0.4, -0.9, 0.0])
RADIUS_MM = 3.2


def _seed(surface: Surface, place: tuple[float, float]) -> np.ndarray:
    near = np.hypot(surface.vertices_mm[:, 0] - place[0], surface.vertices_mm[:, 1] - place[1]) < 1.5
    top = float(np.quantile(surface.vertices_mm[near, 2], 0.9))
    return np.array([place[0], place[1], top - 1.0])


def _split(surface: Surface) -> Surface:
    """Cut every face into six at its center and its edges' middles: the same surface, another tessellation."""
    v, f = surface.vertices_mm, surface.faces
    edges = np.sort(np.concatenate([f[:, [0, 1]], f[:, [1, 2]], f[:, [2, 0]]]), axis=1)
    unique, inverse = np.unique(edges, axis=0, return_inverse=True)
    middle = len(v) + inverse.reshape(3, -1).T
    center = len(v) + len(unique) + np.arange(len(f))
    vertices = np.concatenate([v, v[unique].mean(axis=1), v[f].mean(axis=1)])
    faces = [
        np.column_stack(three)
        for k in range(3)
        for three in (
            (f[:, k], middle[:, k], center),
            (middle[:, k], f[:, (k + 1) % 3], center),
        )
    ]
    return Surface(vertices, np.concatenate(faces).astype(np.int32))


def _moved_points(points: np.ndarray, seed: np.ndarray) -> np.ndarray:
    """Move what lies within 4 mm of the seed rigidly; the motion fades out over the next 2 mm."""
    T = make_transform(TURN_RAD, np.zeros(3))
    rigid = apply_transform(T, points - seed) + seed + SHIFT_MM
    share = np.clip((6.0 - np.linalg.norm(points - seed, axis=1)) / 2.0, 0.0, 1.0)[:, None]
    return points + share * (rigid - points)


@pytest.fixture(scope="module")
def real_case(scans_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[int, np.ndarray]]:
    rng = np.random.default_rng(20260302)
    reference = read_surface(scans_folder / "lower_cast.ply", length_unit="mm")
    seeds = {tooth: _seed(reference, place) for tooth, place in PLACES_MM.items()}
    split = _split(reference)
    points = _moved_points(split.vertices_mm, seeds[MOVED]) + rng.normal(0.0, 0.006, split.vertices_mm.shape)
    T_poured_reference = make_transform(np.radians([70.0, -40.0, 100.0]), np.array([12.0, -25.0, 18.0]))
    poured = Surface(apply_transform(T_poured_reference, points), split.faces)
    folder = tmp_path_factory.mktemp("real") / "case"
    (folder / "scans").mkdir(parents=True)
    (folder / "scans" / "reference.ply").write_bytes(encode_ply(reference))
    (folder / "scans" / "poured.ply").write_bytes(encode_ply(poured))
    (folder / "case.toml").write_bytes(case_to_toml(_case(seeds)))
    (folder / "bench.toml").write_bytes(bench_to_toml(demo_bench()))
    return folder, seeds


def _case(seeds: dict[int, np.ndarray]) -> Case:
    teeth = tuple(sorted(PLACES_MM))
    scans = {ScanRole.REFERENCE: (ScanOf.VERIFIED_CAST, None), ScanRole.POURED: (ScanOf.POURED_CAST, "pickup")}
    return Case(
        schema=1,
        code="REAL-SURFACE",
        arch=Arch.MANDIBLE,
        as_of="2026-03-04T09:00:00Z",
        teeth=Teeth(present=teeth, missing_partial=(41, 42, 31, 32), missing_not_replaced=(38, 48)),
        unit=tuple(metal_ceramic_crown(tooth) for tooth in teeth),
        impression=(
            Impression(
                id="pickup", role=ImpressionRole.PICK_UP, arch=Arch.MANDIBLE, material=ImpressionMaterial.POLYETHER,
                tray=Tray.RIGID_CUSTOM, adhesive=True, route=Route.OVERALL, lifts=teeth,
                pour=PourPlan(stone=Stone.TYPE_4, base_stone=Stone.TYPE_3),
            ),
        ),
        scan=tuple(
            Scan(
                id=role.value, role=role, of=of, arch=Arch.MANDIBLE, file=f"scans/{role.value}.ply",
                length_unit=LengthUnit.MILLIMETRE, repeatability_um=5.0, impression=impression,
            )
            for role, (of, impression) in scans.items()
        ),
        region=tuple(Region(tooth=t, seed_mm=tuple(np.round(s, 3)), radius_mm=RADIUS_MM) for t, s in seeds.items()),
        tolerance=Tolerance(unit_shift_um=50.0, reason="invented for this test"),
    )  # fmt: skip


@pytest.fixture(scope="module")
def dossier(real_case, seatwright, tmp_path_factory):
    folder, _ = real_case
    out = tmp_path_factory.mktemp("real-out") / "dossier"
    ran = seatwright("dossier", folder, "--out", out)
    assert ran.code == 0, ran.err
    return out, json.loads((out / "dossier.json").read_text(encoding="utf-8"))


def test_whole_job_runs_on_a_real_cast(dossier) -> None:
    out, document = dossier
    assert (out / "index.html").is_file()
    assert document["result"]["support"]["kennedy_class"] == "IV"
    assert {unit["chosen"] for unit in document["result"]["dies"]["units"]} == {"gel"}


def test_the_moved_unit_of_a_real_cast_is_found_and_no_other(dossier) -> None:
    units = {int(u["tooth"]): u for u in dossier[1]["result"]["cast"][0]["check"]["units"]}
    assert {t for t, u in units.items() if u["verdict"] == "does_not_conform"} == {MOVED}
    assert all(u["verdict"] == "conforms" for t, u in units.items() if t != MOVED)


def test_the_known_movement_lies_within_its_stated_uncertainty(dossier, real_case) -> None:
    _, seeds = real_case
    unit = next(u for u in dossier[1]["result"]["cast"][0]["check"]["units"] if u["tooth"] == str(MOVED))
    about = np.array(unit["about_mm"])
    rotation = make_transform(TURN_RAD, np.zeros(3))[:3, :3]
    expected = SHIFT_MM + (rotation - np.eye(3)) @ (about - seeds[MOVED])
    off = np.abs(np.array(unit["shift_mm"]) - expected)
    assert (off <= 3.0 * np.array(unit["u_shift_mm"])).all()
    turned = np.abs(np.radians(unit["turn_deg"]) - TURN_RAD)
    assert (turned <= 3.0 * np.radians(unit["u_turn_deg"])).all()
