import io
import json
import re
import struct
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import trimesh
from PIL import Image

from seatwright.errors import MeshError
from seatwright.figures import LegendPlate
from seatwright.files import (
    check_arch_extent,
    encode_glb,
    encode_ply,
    encode_stl,
    parse_surface,
    read_surface,
)
from seatwright.mesh import Surface, is_closed, measure_area_mm2, measure_volume_mm3


def ball(radius: float = 30.0) -> Surface:
    made = trimesh.creation.icosphere(subdivisions=2, radius=radius)
    return Surface(np.array(made.vertices), np.array(made.faces))


def as_text_ply(surface: Surface) -> bytes:
    lines = [
        "ply",
        "format ascii 1.0",
        "comment a comment",
        f"element vertex {surface.n_vertices}",
        "property float x",
        "property float y",
        "property float z",
        "property uchar red",
        f"element face {surface.n_faces}",
        "property list uchar int vertex_indices",
        "end_header",
    ]
    lines += [f"{x:.9g} {y:.9g} {z:.9g} 7" for x, y, z in surface.vertices_mm]
    lines += [f"3 {a} {b} {c}" for a, b, c in surface.faces]
    return "\n".join(lines).encode()


def as_big_endian_ply(surface: Surface) -> bytes:
    head = (
        f"ply\r\nformat binary_big_endian 1.0\r\nelement vertex {surface.n_vertices}\r\nproperty float x\r\n"
        f"property float y\r\nproperty float z\r\nproperty float quality\r\nelement face {surface.n_faces}\r\n"
        "property list uchar uint vertex_index\r\nproperty uchar flag\r\nend_header\r\n"
    ).encode()
    body = b"".join(struct.pack(">4f", *v, 0.5) for v in surface.vertices_mm)
    return head + body + b"".join(struct.pack(">B3IB", 3, *f, 1) for f in surface.faces)


def as_text_stl(surface: Surface) -> bytes:
    out = ["solid thing"]
    for a, b, c in surface.vertices_mm[surface.faces]:
        out += ["facet normal 0 0 1", " outer loop"]
        out += [f"  vertex {p[0]:.9e} {p[1]:.9e} {p[2]:.9e}" for p in (a, b, c)]
        out += [" endloop", "endfacet"]
    return "\n".join([*out, "endsolid thing\n"]).encode()


def as_obj(surface: Surface) -> bytes:
    out = ["# made", "o thing"] + [f"v {x:.9g} {y:.9g} {z:.9g}" for x, y, z in surface.vertices_mm]
    out += [f"f {a + 1}/1/1 {b + 1}/2/2 {c + 1}/3/3" for a, b, c in surface.faces]
    return "\n".join(out).encode()


WRITERS = {
    "a.stl": encode_stl,
    "b.stl": as_text_stl,
    "c.ply": encode_ply,
    "d.ply": as_text_ply,
    "e.ply": as_big_endian_ply,
    "f.obj": as_obj,
}


@pytest.mark.parametrize("name", WRITERS)
def test_surface_comes_back_from_each_format(name: str, tmp_path: Path) -> None:
    surface = ball()
    (tmp_path / name).write_bytes(WRITERS[name](surface))
    back = read_surface(tmp_path / name, length_unit="mm")
    assert is_closed(back)
    assert back.n_vertices == surface.n_vertices
    assert measure_volume_mm3(back) == pytest.approx(measure_volume_mm3(surface), rel=1e-6)


@pytest.mark.parametrize("name", WRITERS)
def test_each_format_reads_as_a_general_library_reads_it(name: str) -> None:
    """Outside check: trimesh on the same bytes."""
    data = WRITERS[name](ball())
    theirs = trimesh.load(io.BytesIO(data), file_type=name[-3:], process=False)
    mine = parse_surface(data, name=name, length_unit="mm")
    assert measure_area_mm2(mine) == pytest.approx(theirs.area, rel=1e-6)
    assert mine.n_faces == len(theirs.faces)


def test_ply_is_written_bit_for_bit() -> None:
    surface = ball()
    back = parse_surface(encode_ply(surface), name="x.ply", length_unit="mm")
    assert np.array_equal(back.vertices_mm, surface.vertices_mm)
    assert np.array_equal(back.faces, surface.faces)


@pytest.mark.parametrize(
    ("unit", "factor"), [("um", 1e-3), ("mm", 1), ("cm", 10), ("m", 1000), ("in", 25.4), ("inch", 25.4)]
)
def test_length_unit_is_converted(unit: str, factor: float) -> None:
    back = parse_surface(encode_ply(ball()), name="x.ply", length_unit=unit)
    assert back.extent_mm.max() == pytest.approx(60 * factor, rel=1e-9)


def test_binary_stl_that_begins_with_solid_is_read_as_binary() -> None:
    data = b"solid but binary".ljust(80) + encode_stl(ball())[80:]
    assert parse_surface(data, name="x.stl", length_unit="mm").n_faces == 320


def test_negative_obj_indices_count_from_the_end() -> None:
    data = b"v 9 9 9\nv 0 0 0\nv 1 0 0\nv 0 1 0\nf -3 -2 -1\n"
    assert parse_surface(data, name="x.obj", length_unit="mm").faces.tolist() == [[1, 2, 3]]


def test_polygons_are_cut_into_triangles() -> None:
    obj = b"v 0 0 0\nv 2 0 0\nv 2 2 0\nv 0 2 0\nf 1 2 3 4\n"
    ply = (
        b"ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\n"
        b"element face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n2 0 0\n2 2 0\n0 2 0\n4 0 1 2 3\n"
    )
    for name, data in (("x.obj", obj), ("x.ply", ply)):
        surface = parse_surface(data, name=name, length_unit="mm")
        assert surface.n_faces == 2
        assert measure_area_mm2(surface) == 4.0
    mixed = ply.replace(b"ascii", b"binary_little_endian").split(b"end_header\n")[0] + b"end_header\n"
    mixed = (
        mixed.replace(b"face 1", b"face 2") + np.array([[0, 0, 0], [2, 0, 0], [2, 2, 0], [0, 2, 0]], "<f4").tobytes()
    )
    mixed += struct.pack("<B4i", 4, 0, 1, 2, 3) + struct.pack("<B3i", 3, 0, 2, 1)
    assert parse_surface(mixed, name="x.ply", length_unit="mm").n_faces == 3


PLY = encode_ply(ball())
STL = encode_stl(ball())
HUGE_PLY = PLY.replace(b"element vertex 162", b"element vertex 4000000000")
HUGE_FACES = PLY.replace(b"element face 320", b"element face 4000000000")
TEXT = as_text_ply(ball())

BROKEN = {
    "empty": ("x.stl", b"", "empty"),
    "only zeros": ("x.ply", b"\0" * 500, "empty"),
    "short": ("x.stl", b"abc" * 9, "too short"),
    "binary STL cut off": ("x.stl", STL[:-7], "states 320 triangles"),
    "binary STL absurd count": ("x.stl", STL[:80] + struct.pack("<I", 2**32 - 1) + STL[84:], "states 4294967295"),
    "binary STL without triangles": ("x.stl", STL[:80] + struct.pack("<I", 0), "no faces"),
    "text STL cut off": ("x.stl", as_text_stl(ball())[:-4000], "ends early"),
    "text STL without facets": ("x.stl", b"solid nothing\nendsolid nothing\n", "no faces"),
    "PLY cut off in faces": ("x.ply", PLY[:-9], "ends amid face 319"),
    "PLY with absurd vertices": ("x.ply", HUGE_PLY, "states 4000000000 vertex"),
    "PLY with absurd faces": ("x.ply", HUGE_FACES, "states 162 vertex, 4000000000 face"),
    "PLY without faces": ("x.ply", PLY.replace(b"element face 320", b"element face 0"), "no faces"),
    "PLY of points": (
        "x.ply",
        b"ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nend_header\n1\n",
        "no faces",
    ),
    "PLY header without end": ("x.ply", b"ply\nformat ascii 1.0\n", "no end"),
    "PLY of unknown format": (
        "x.ply",
        PLY.replace(b"binary_little_endian", b"binary_middle_endian"),
        "no known format",
    ),
    "PLY with negative count": ("x.ply", PLY.replace(b"vertex 162", b"vertex -162"), "no valid count"),
    "PLY with strange property": ("x.ply", PLY.replace(b"double x", b"quaternion x"), "cannot be read"),
    "PLY index out of range": ("x.ply", TEXT.replace(b"\n3 0 ", b"\n3 999 ", 1), "names vertex 999"),
    "PLY with text cut off": ("x.ply", TEXT[: len(TEXT) // 2], "cut off|ends|states"),
    "PLY with words": ("x.ply", TEXT.replace(b"end_header\n", b"end_header\nabc ", 1), "not a number"),
    "PLY with NaN": ("x.ply", re.sub(rb"end_header\n\S+", b"end_header\nnan", TEXT), "not a finite number"),
    "OBJ index out of range": ("x.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n", "names vertex 8"),
    "OBJ huge index": ("x.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 99999999999999999999\n", "names vertex"),
    "OBJ zero index": ("x.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 0 1 2\n", "counted from 1"),
    "OBJ NaN": ("x.obj", b"v 0 0 nan\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "finite"),
    "OBJ without faces": ("x.obj", b"v 0 0 0\nv 1 0 0\n", "no faces"),
    "OBJ word for a number": ("x.obj", b"v 0 0 zero\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "not a number"),
    "OBJ short vertex": ("x.obj", b"v 0 0\nf 1 1 1\n", "line 1"),
    "STL named PLY": ("x.ply", STL, "content is STL"),
    "PLY named STL": ("x.stl", PLY, "content is PLY"),
    "OBJ named STL": ("x.stl", as_obj(ball()), "content is OBJ"),
    "text named PLY": ("x.ply", b"hello, this is a letter", "not PLY"),
    "unknown ending": ("x.3ds", STL, "no surface format"),
    "no ending": ("x", STL, "no surface format"),
    "all in one point": ("x.obj", b"v 0 0 0\nv 0 0 0\nv 0 0 0\nf 1 2 3\n", "no face has an area"),
}


@pytest.mark.parametrize("case", BROKEN)
def test_broken_file_is_refused_with_name_reason_and_remedy(case: str, tmp_path: Path) -> None:
    name, data, says = BROKEN[case]
    (tmp_path / name).write_bytes(data)
    with pytest.raises(MeshError, match=says) as caught:
        read_surface(tmp_path / name, length_unit="mm")
    assert caught.value.message.startswith(name)
    assert caught.value.hint


def test_nan_in_a_binary_file_is_refused() -> None:
    vertices = ball().vertices_mm.astype("<f8").copy()
    vertices[5, 1] = np.nan
    start = PLY.index(b"end_header\n") + len(b"end_header\n")
    data = PLY[:start] + vertices.tobytes() + PLY[start + vertices.nbytes :]
    with pytest.raises(MeshError, match="1 vertices have a coordinate that is not a finite number"):
        parse_surface(data, name="x.ply", length_unit="mm")


@pytest.mark.parametrize("case", ["binary STL absurd count", "PLY with absurd vertices", "PLY with absurd faces"])
def test_absurd_count_allocates_nothing(case: str) -> None:
    name, data, _ = BROKEN[case]
    tracemalloc.start()
    with pytest.raises(MeshError):
        parse_surface(data, name=name, length_unit="mm")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 2_000_000


def test_missing_file_and_unknown_unit_are_refused(tmp_path: Path) -> None:
    with pytest.raises(MeshError, match=r"nowhere\.stl: cannot be read"):
        read_surface(tmp_path / "nowhere.stl", length_unit="mm")
    with pytest.raises(MeshError, match="no known length unit"):
        parse_surface(STL, name="x.stl", length_unit="furlong")


@pytest.mark.parametrize(("factor", "unit"), [(1 / 25.4, "in"), (1 / 1000, "m"), (1000, "um")])
def test_arch_in_another_unit_is_refused_and_the_unit_named(factor: float, unit: str) -> None:
    surface = ball(30.0 * factor)
    with pytest.raises(MeshError, match="which no arch does") as caught:
        check_arch_extent(surface, what="the reference scan", file="ref.stl")
    assert unit in caught.value.hint


def test_arch_of_usual_size_passes() -> None:
    check_arch_extent(ball(), what="the reference scan", file="ref.stl")


def test_glb_reads_in_a_general_library_with_its_colors() -> None:
    """Outside check: trimesh reads the container; glTF wants meters."""
    surface = ball()
    rgb = np.random.default_rng(1).integers(0, 256, (surface.n_vertices, 3)).astype(np.uint8)
    data = encode_glb(surface.vertices_mm, surface.faces, rgb)
    assert len(data) % 4 == 0
    assert struct.unpack("<III", data[:12]) == (0x46546C67, 2, len(data))
    scene = trimesh.load(io.BytesIO(data), file_type="glb", process=False)
    [mesh] = scene.geometry.values()
    assert mesh.extents.max() == pytest.approx(0.06, rel=1e-5)
    assert np.array_equal(mesh.faces, surface.faces)
    # sRGB 188 is linear 128 of 255 (IEC 61966-2-1)
    rgb[:] = 188
    document = encode_glb(surface.vertices_mm, surface.faces, rgb)
    length = struct.unpack("<I", document[12:16])[0]
    described = json.loads(document[20 : 20 + length])
    view = described["bufferViews"][2]
    body = document[28 + length :]
    assert body[view["byteOffset"]] in (128, 129)
    with pytest.raises(MeshError):
        encode_glb(surface.vertices_mm, surface.faces, rgb[:5])


def test_legend_of_a_glb_stands_beside_the_surface_and_says_its_scale() -> None:
    """Outside check: trimesh reads surface, plate and texture."""
    surface = ball()
    rgb = np.full((surface.n_vertices, 3), 200, dtype=np.uint8)
    png = io.BytesIO()
    Image.new("RGB", (40, 10), (10, 20, 30)).save(png, format="PNG")
    plate = np.array([[-30.0, -50, 0], [30, -50, 0], [30, -35, 0], [-30, -35, 0]])
    legend = LegendPlate(plate, png.getvalue(), {"blue_um": -200.0, "brown_um": 200.0})
    data = encode_glb(surface.vertices_mm, surface.faces, rgb, legend)
    scene = trimesh.load(io.BytesIO(data), file_type="glb", process=False)
    assert set(scene.geometry) == {"surface", "legend"}
    shown = scene.geometry["legend"]
    center = (surface.vertices_mm.max(axis=0) + surface.vertices_mm.min(axis=0)) / 2
    assert shown.vertices * 1e3 + center == pytest.approx(plate, abs=1e-3)
    assert (shown.face_normals @ np.array([0, 0, 1.0]) > 0.999).all()
    # the picture's lower left is at the plate's first corner: trimesh counts v upwards
    assert shown.visual.uv.tolist() == [[0, 0], [1, 0], [1, 1], [0, 1]]
    assert shown.visual.material.baseColorTexture.getpixel((5, 5)) == (10, 20, 30)
    described = json.loads(data[20 : 20 + struct.unpack("<I", data[12:16])[0]])
    extras = described["scenes"][0]["extras"]
    assert extras["blue_um"] == -200.0
    assert extras["center_mm"] == pytest.approx(center)
    assert all(view["byteOffset"] % 4 == 0 for view in described["bufferViews"])
