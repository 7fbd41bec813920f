import json
from pathlib import Path

import numpy as np
import pytest
import trimesh

from seatwright.arch import MeshRegion, SeedRegion
from seatwright.errors import InputError
from seatwright.files import encode_stl, read_unit_regions
from seatwright.mesh import Surface


def write(folder: Path, content: object) -> Path:
    path = folder / "regions.json"
    path.write_text(content if isinstance(content, str) else json.dumps(content), encoding="utf-8")
    return path


def test_seeds_and_meshes_are_read(tmp_path: Path) -> None:
    made = trimesh.creation.icosphere(radius=3.0)
    (tmp_path / "crown24.stl").write_bytes(encode_stl(Surface(np.array(made.vertices), np.array(made.faces))))
    path = write(
        tmp_path, [{"tooth": "23", "seed_mm": [1, 2.5, -3], "radius_mm": 3.0}, {"tooth": "24", "mesh": "crown24.stl"}]
    )
    seed, mesh = read_unit_regions(path)
    assert isinstance(seed, SeedRegion)
    assert (seed.tooth, seed.seed_mm.tolist(), seed.radius_mm) == ("23", [1.0, 2.5, -3.0], 3.0)
    assert isinstance(mesh, MeshRegion)
    assert mesh.surface.extent_mm.max() == pytest.approx(6.0, rel=0.05)


def test_all_faults_are_collected(tmp_path: Path) -> None:
    path = write(
        tmp_path,
        [
            {"tooth": "99", "seed_mm": [1, 2, 3], "radius_mm": 3},
            {"tooth": "23", "seed_mm": [1, 2], "radius_mm": 0},
            {"tooth": "24", "mesh": "absent.stl"},
            {"tooth": "25", "mesh": "a.stl", "seed_mm": [1, 2, 3]},
            {"tooth": "26", "seed_mm": [1, 2, True], "radius_mm": 3, "color": "red"},
            "words",
            {"tooth": "27", "mesh": 5},
            {"tooth": "11", "seed_mm": [1, 2, 3], "radius_mm": 3},
            {"tooth": "11", "seed_mm": [1, 2, 4], "radius_mm": 3},
        ],
    )
    with pytest.raises(InputError) as caught:
        read_unit_regions(path)
    places = [f.where for f in caught.value.faults]
    assert [p.split("]")[0] for p in places] == [
        "regions.json: [0",
        "regions.json: [1",
        "regions.json: [1",
        "regions.json: [2",
        "regions.json: [3",
        "regions.json: [4",
        "regions.json: [4",
        "regions.json: [5",
        "regions.json: [6",
        "regions.json",
    ]
    assert all(f.hint for f in caught.value.faults)
    assert "and 9 more" in caught.value.message


@pytest.mark.parametrize("content", ["{not json", "[]", '{"tooth": "23"}', "3"])
def test_what_is_no_list_of_units_is_refused(content: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"regions\.json"):
        read_unit_regions(write(tmp_path, content))


def test_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        read_unit_regions(tmp_path / "none.json")
