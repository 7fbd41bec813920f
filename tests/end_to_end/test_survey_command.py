"""`seatwright survey --mesh`: the answer, the written map, and what is refused."""

import contextlib
import io
import json
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
import trimesh
from tests.shapes import ball, box, joined
from tests.unit.survey.shapes import frustum

from seatwright.cli import main
from seatwright.files import encode_ply, encode_stl
from seatwright.mesh import Surface


@dataclass(frozen=True, slots=True)
class Ran:
    code: int
    out: str
    err: str

    @property
    def json(self) -> dict[str, Any]:
        return dict(json.loads(self.out))


@pytest.fixture
def seatwright() -> Callable[..., Ran]:
    """Run the command line within this process: the many refusals would else wait for the interpreter."""

    def run(*arguments: object) -> Ran:
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), pytest.raises(SystemExit) as left:
            main([str(argument) for argument in arguments])
        return Ran(int(left.value.code or 0), out.getvalue(), err.getvalue())

    return run


def map_of(path: Path) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Read the written map with a general-purpose library: vertices, undercut, flags."""
    read = trimesh.load(path, process=False)
    data = read.metadata["_ply_raw"]["vertex"]["data"]
    return np.array(read.vertices), np.array(data["undercut_mm"]).ravel(), np.array(data["undercut_flag"]).ravel()


def test_ply_map_keeps_the_vertices_in_order_and_reads_the_ball_s_undercut(seatwright, tmp_path) -> None:
    surface = joined(ball(5.0), ball(2.0, center=(9.0, 0, 0)))
    order = np.random.default_rng(3).permutation(surface.n_vertices)
    shuffled = Surface(surface.vertices_mm[order], np.argsort(order)[surface.faces])
    (tmp_path / "two.ply").write_bytes(encode_ply(shuffled))
    seat = np.array([0.2, -0.1, -1.0])
    ran = seatwright(
        "survey",
        "--mesh",
        tmp_path / "two.ply",
        "--path",
        "0.2,-0.1,-1",
        "--undercut-map",
        tmp_path / "map.ply",
        "--json",
    )
    assert ran.code == 0, ran.out + ran.err
    assert set(ran.json) == {"schema", "seatwright", "inputs", "result", "findings"}
    assert np.allclose(ran.json["result"]["path"]["seat_direction"], seat / np.linalg.norm(seat))
    vertices, undercut, flags = map_of(tmp_path / "map.ply")
    assert np.array_equal(vertices, shuffled.vertices_mm)
    up = -seat / np.linalg.norm(seat)
    is_small = vertices[:, 0] > 6.5
    out = vertices - np.where(is_small[:, None], [9.0, 0, 0], [0.0, 0, 0])
    height = out @ up
    truth = np.where(is_small, 2.0, 5.0) - np.linalg.norm(out - height[:, None] * up, axis=1)
    measured = flags == 1
    assert measured.sum() > 500
    assert np.percentile(np.abs(undercut - truth)[measured], 99) < 0.010
    assert (undercut[flags == 0] == 0).all()
    assert (undercut[flags == 2] == 2.0).all()
    ids = {finding["id"] for finding in ran.json["findings"]}
    assert "several-bodies" in ids
    assert all(f["severity"] == "note" for f in ran.json["findings"])


def test_stl_map_lists_distinct_corners_in_order_of_first_appearance(seatwright, tmp_path) -> None:
    surface = ball(3.0, subdivisions=3)
    (tmp_path / "ball.stl").write_bytes(encode_stl(surface))
    ran = seatwright(
        "survey", "--mesh", tmp_path / "ball.stl", "--path", "0,0,-1", "--undercut-map", tmp_path / "map.ply"
    )
    assert ran.code == 0, ran.err
    corners = surface.vertices_mm[surface.faces].reshape(-1, 3).astype(np.float32).astype(float)
    _, first = np.unique(corners, axis=0, return_index=True)
    assert np.array_equal(map_of(tmp_path / "map.ply")[0], corners[np.sort(first)])


def test_ply_with_loose_triangles_keeps_every_vertex(seatwright, tmp_path) -> None:
    made = ball(3.0, subdivisions=2)
    soup = Surface(made.vertices_mm[made.faces].reshape(-1, 3), np.arange(3 * made.n_faces).reshape(-1, 3))
    (tmp_path / "soup.ply").write_bytes(encode_ply(soup))
    ran = seatwright(
        "survey", "--mesh", tmp_path / "soup.ply", "--path", "0,0,-1", "--undercut-map", tmp_path / "map.ply"
    )
    assert ran.code == 0, ran.err
    vertices, undercut, _ = map_of(tmp_path / "map.ply")
    assert np.array_equal(vertices, soup.vertices_mm)
    _, group = np.unique(vertices, axis=0, return_inverse=True)
    assert np.array_equal(undercut, undercut[np.unique(group, return_index=True)[1]][group])


@pytest.mark.parametrize("path", ["0,0,0", "nan,0,1", "1,2", "up", "inf,0,0", "", "0,0,-1,0"])
def test_path_that_is_no_direction_is_refused(path, seatwright, tmp_path) -> None:
    (tmp_path / "b.ply").write_bytes(encode_ply(ball(3.0, subdivisions=1)))
    ran = seatwright(
        "survey", "--mesh", tmp_path / "b.ply", "--path", path, "--undercut-map", tmp_path / "m.ply", "--json"
    )
    assert ran.code == 2
    assert set(json.loads(ran.out)) == {"error"}
    assert not (tmp_path / "m.ply").exists()


def test_inside_out_ball_is_said_and_measured_the_right_way(seatwright, tmp_path) -> None:
    made = ball(3.0, subdivisions=4)
    (tmp_path / "in.ply").write_bytes(encode_ply(Surface(made.vertices_mm, made.faces[:, ::-1])))
    (tmp_path / "out.ply").write_bytes(encode_ply(made))
    answers = [
        seatwright("survey", "--mesh", tmp_path / n, "--path", "0,0,-1", "--json").json for n in ("in.ply", "out.ply")
    ]
    assert "normals-inverted" in {f["id"] for f in answers[0]["findings"]}
    assert "normals-inverted" not in {f["id"] for f in answers[1]["findings"]}
    assert answers[0]["result"] == answers[1]["result"]


@pytest.mark.parametrize(
    ("name", "data"),
    [("a.ply", b"not a mesh"), ("a.txt", b"x"), ("missing.ply", None), ("a.stl", b"")],
)
def test_file_that_is_no_surface_is_refused(name, data, seatwright, tmp_path) -> None:
    if data is not None:
        (tmp_path / name).write_bytes(data)
    ran = seatwright("survey", "--mesh", tmp_path / name, "--path", "0,0,-1", "--json")
    assert ran.code == 2
    assert name in ran.json["error"]["message"]


def test_coordinates_that_overflow_are_refused(seatwright, tmp_path) -> None:
    made = ball(3.0, subdivisions=1)
    (tmp_path / "far.ply").write_bytes(encode_ply(Surface(made.vertices_mm * 1e100, made.faces)))
    ran = seatwright("survey", "--mesh", tmp_path / "far.ply", "--path", "0,0,-1", "--json")
    assert ran.code == 2
    assert ran.json["error"]["code"] in ("range", "mesh")


@pytest.mark.parametrize(
    "more",
    [
        ["--max-undercut-mm", "0"],
        ["--max-undercut-mm", "nan"],
        ["--quality", "best"],
        ["--gauge", "clasp-44=0.25"],
        ["--tilt", "1,2"],
        ["--mark", "0,0,0"],
        ["--framework", "part.ply"],
    ],
)
def test_option_without_a_meaning_is_refused(more, seatwright, tmp_path) -> None:
    (tmp_path / "b.ply").write_bytes(encode_ply(ball(3.0, subdivisions=1)))
    assert seatwright("survey", "--mesh", tmp_path / "b.ply", "--path", "0,0,-1", *more, "--json").code == 2


def test_map_never_replaces_the_surface_itself(seatwright, tmp_path) -> None:
    surface = tmp_path / "b.ply"
    surface.write_bytes(encode_ply(ball(3.0, subdivisions=1)))
    before = surface.read_bytes()
    ran = seatwright("survey", "--mesh", surface, "--path", "0,0,-1", "--undercut-map", surface, "--json")
    assert ran.code == 5
    assert surface.read_bytes() == before


def test_real_cast_is_surveyed_and_a_path_from_below_is_said(seatwright, scans_folder) -> None:
    from_above = seatwright("survey", "--mesh", scans_folder / "lower_cast.ply", "--path", "0,0,-1", "--json").json
    from_below = seatwright("survey", "--mesh", scans_folder / "lower_cast.ply", "--path", "0,0,1", "--json").json
    bands = from_above["result"]["undercut"]["bands"]
    assert [band["from_mm"] for band in bands] == [0.0, 0.25, 0.5, 0.75]
    assert all(band["area_mm2"] > 10 for band in bands)
    assert "path-mostly-undercut" not in {f["id"] for f in from_above["findings"]}
    assert "path-mostly-undercut" in {f["id"] for f in from_below["findings"]}


def test_block_out_is_written_as_closed_solids_that_other_programs_read(seatwright, tmp_path) -> None:
    plate = box((12, 12, 1), edge=20.0, center=(0, 0, -0.5))
    (tmp_path / "b.ply").write_bytes(encode_ply(joined(plate, ball(3.0, center=(0, 0, 3.0)))))
    for ending in ("stl", "glb", "ply", "3mf"):
        out = tmp_path / f"fill.{ending}"
        ran = seatwright("survey", "--mesh", tmp_path / "b.ply", "--path", "0,0,-1", "--block-out", out, "--json")
        assert ran.code == 0, ran.out
        volume = ran.json["result"]["block_out"]["volume_mm3"]
        assert volume == pytest.approx(9 * np.pi, rel=0.02)  # cylinder less half a ball, r 3
        if ending == "3mf":
            assert measured_in_3mf(out) == pytest.approx(volume, rel=1e-5)
            continue
        read = trimesh.load(out, force="mesh")
        read.merge_vertices()
        assert read.is_watertight
        assert read.volume * (1e9 if ending == "glb" else 1) == pytest.approx(volume, rel=1e-3)


def test_ledges_and_relief_are_written_as_closed_solids_and_told_for_wax(seatwright, tmp_path) -> None:
    plate = box((12, 12, 1), edge=0.5, center=(0, 0, -0.5))
    (tmp_path / "b.ply").write_bytes(encode_ply(joined(plate, ball(3.0, center=(0, 0, 3.0)))))
    told = ["survey", "--mesh", tmp_path / "b.ply", "--path", "0,0,-1", "--json"]
    plain = seatwright(*told, "--block-out", tmp_path / "p.stl").json["result"]["block_out"]["volume_mm3"]
    for ending in ("stl", "glb", "3mf"):
        fill, pads = tmp_path / f"fill.{ending}", tmp_path / f"pads.{ending}"
        more = ["--ledge", "2.9,0,2.2", "--relief", "30:1.5:4.5,4.5,0", "--relief", "24:1:-4.5,-4.5,0:-4.5,4.5,0"]
        result = seatwright(*told, "--block-out", fill, "--relief-out", pads, *more).json["result"]
        assert result["block_out"]["n_ledges"] == 1
        assert 0.5 * plain < result["block_out"]["volume_mm3"] < 0.99 * plain
        areas = [pad["area_mm2"] for pad in result["relief"]]
        assert areas == pytest.approx([np.pi * 1.5**2, 2 * 9 + np.pi], rel=0.02)
        volume = sum(pad["volume_mm3"] for pad in result["relief"])
        assert any("30-gauge" in step for step in result["wax_steps"])
        assert any("ledge" in step for step in result["wax_steps"])
        if ending == "3mf":
            assert measured_in_3mf(pads) == pytest.approx(volume, rel=1e-5)
            continue
        read = trimesh.load(pads, force="mesh")
        read.merge_vertices()
        assert read.is_watertight
        assert read.volume * (1e9 if ending == "glb" else 1) == pytest.approx(volume, rel=1e-3)


@pytest.mark.parametrize(
    "more",
    [["--relief", "30"], ["--relief", "30.5:1:0,0,3"], ["--relief", "30:1:0,0"], ["--relief", "x:1:0,0,3"],
     ["--relief-out", "pads.stl"], ["--ledge", "1,2"], ["--taper-deg", "40"], ["--undercut-svg", "a.png"]],
)  # fmt: skip
def test_ledge_or_relief_that_cannot_be_read_is_refused(more, seatwright, tmp_path) -> None:
    (tmp_path / "b.ply").write_bytes(encode_ply(ball(3.0, subdivisions=2)))
    ran = seatwright("survey", "--mesh", tmp_path / "b.ply", "--path", "0,0,-1", *more, "--json")
    assert ran.code == 2
    assert set(ran.json) == {"error"}


def measured_in_3mf(path: Path) -> float:
    """Volume of all objects of a 3MF package by the standard library's readers; the unit must be the millimeter."""
    core = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"
    with zipfile.ZipFile(path) as package:
        assert "[Content_Types].xml" in package.namelist()
        assert b"/3D/3dmodel.model" in package.read("_rels/.rels")
        model = ElementTree.fromstring(package.read("3D/3dmodel.model"))
    assert model.attrib["unit"] == "millimeter"
    ids = {item.attrib["objectid"] for item in model.iter(f"{core}item")}
    total = 0.0
    for item in model.iter(f"{core}object"):
        assert item.attrib["id"] in ids
        points = np.array([[float(v.attrib[k]) for k in "xyz"] for v in item.iter(f"{core}vertex")])
        faces = np.array([[int(t.attrib[k]) for k in ("v1", "v2", "v3")] for t in item.iter(f"{core}triangle")])
        read = trimesh.Trimesh(points, faces)
        assert read.is_watertight
        total += read.volume
    return total


def test_path_read_from_marks_is_the_path_that_chose_them(seatwright, tmp_path) -> None:
    made = ball(12.0)
    keep = made.vertices_mm[made.faces].mean(axis=1)[:, 2] > -6
    dome = Surface(made.vertices_mm, made.faces[keep])
    (tmp_path / "dome.ply").write_bytes(encode_ply(dome))
    first = seatwright("survey", "--mesh", tmp_path / "dome.ply", "--path", "0.1,0.2,-1", "--json").json["result"]
    marks = [",".join(map(str, point)) for point in first["tripod"]["points_mm"]]
    options = [word for mark in marks for word in ("--mark", mark)]
    again = seatwright("survey", "--mesh", tmp_path / "dome.ply", *options, "--json").json["result"]
    assert np.allclose(again["path"]["seat_direction"], first["path"]["seat_direction"], atol=1e-9)
    few = seatwright("survey", "--mesh", tmp_path / "dome.ply", *options[:4], "--json")
    assert few.code == 2
    line = ["--mark", "0,0,0", "--mark", "5,0,0", "--mark", "9,0,0"]
    assert seatwright("survey", "--mesh", tmp_path / "dome.ply", *line, "--json").code == 3


def test_picture_of_undercuts_is_a_sheet_with_legend_and_three_views(seatwright, tmp_path) -> None:
    (tmp_path / "b.ply").write_bytes(encode_ply(ball(5.0)))
    ran = seatwright("survey", "--mesh", tmp_path / "b.ply", "--path", "0,0,-1", "--svg", tmp_path / "b.svg")
    assert ran.code == 0, ran.err
    drawn = (tmp_path / "b.svg").read_text(encoding="utf-8")
    assert drawn.count("<image") == 3 + 5
    for text in ("Undercut, mm", "survey line", "gauge 0.25 touches", "0.50 to 0.75"):
        assert text in drawn
    root = ElementTree.fromstring(drawn)
    assert root.attrib["role"] == "img"


def test_without_a_path_the_window_and_a_path_are_found(seatwright, tmp_path) -> None:
    (tmp_path / "die.ply").write_bytes(encode_ply(frustum(taper_deg=6.0, height_mm=5.0, n=48)))
    result = seatwright("survey", "--mesh", tmp_path / "die.ply", "--max-tilt-deg", "12", "--json").json["result"]
    assert not result["window"]["is_empty"]
    assert result["window"]["regions"][0]["in_radius_deg"] == pytest.approx(6.0, abs=0.1)
    assert result["path"]["seat_direction"] == pytest.approx([0.0, 0.0, -1.0], abs=0.02)
    assert result["undercut"]["deepest_mm"] == pytest.approx(0.0, abs=1e-6)
    assert seatwright("survey", "--mesh", tmp_path / "die.ply", "--max-tilt-deg", "95", "--json").code == 2
