"""Unit regions from a JSON file; every fault is collected before anything is said."""

import json
import math
from pathlib import Path
from typing import TypeGuard

import numpy as np

from seatwright.arch import MeshRegion, RegionSpec, SeedRegion
from seatwright.case import parse_tooth
from seatwright.errors import Fault, InputError, MeshError
from seatwright.files.meshes import read_surface

__all__ = ["read_unit_regions"]

_SHAPE = '[{"tooth": "23", "seed_mm": [x, y, z], "radius_mm": 3.0} or {"tooth": "23", "mesh": "crown23.stl"}, ...]'
_LARGEST_RADIUS_MM = 20.0  # judgement: larger than any crown; a slip of the unit


def read_unit_regions(path: Path, *, length_unit: str = "mm") -> tuple[RegionSpec, ...]:
    """Read where each unit is on the reference.

    Parameters
    ----------
    path : Path
        JSON; seeds and radii are in mm and in the reference's frame.
    length_unit : str
        Length unit of the mesh files that it names; their paths start at the file's folder.

    Raises
    ------
    InputError
        With every fault found, each with its place and remedy.
    """
    entries = _load(path)
    faults: list[Fault] = []
    specs: list[RegionSpec] = []
    for number, entry in enumerate(entries):
        where = f"{path.name}: [{number}]"
        spec, found = _parse(entry, where, (path.parent, length_unit))
        faults.extend(found)
        if spec is not None:
            specs.append(spec)
    teeth = [spec.tooth for spec in specs]
    doubled = sorted({t for t in teeth if teeth.count(t) > 1})
    faults += [Fault(path.name, f"tooth {t} is named more than once", "give each tooth one region") for t in doubled]
    if faults:
        more = f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
        raise InputError(f"{faults[0].where}: {faults[0].what}{more}", hint=faults[0].hint, faults=faults)
    return tuple(specs)


def _load(path: Path) -> list[object]:
    try:
        loaded = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(f"{path.name}: cannot be read ({error.strerror or error})", hint="check the path") from error
    except (UnicodeDecodeError, json.JSONDecodeError) as error:
        raise InputError(f"{path.name}: is not JSON ({error})", hint=f"write {_SHAPE}") from error
    if not isinstance(loaded, list) or not loaded:
        raise InputError(f"{path.name}: holds no list of units", hint=f"write {_SHAPE}")
    return loaded


def _parse(entry: object, where: str, files: tuple[Path, str]) -> tuple[RegionSpec | None, list[Fault]]:
    if not isinstance(entry, dict):
        return None, [Fault(where, "is not an object", f"write {_SHAPE}")]
    faults = []
    tooth = str(entry.get("tooth", ""))
    if not _is_tooth(tooth):
        faults.append(Fault(f"{where}.tooth", f"'{tooth}' is no tooth number", "use ISO 3950, such as 23"))
    known = {"tooth", "seed_mm", "radius_mm", "mesh"}
    faults += [Fault(f"{where}.{k}", "is not a known field", "remove it") for k in sorted(entry.keys() - known)]
    if "mesh" in entry:
        spec, found = _parse_mesh(entry, tooth, where, files)
    else:
        spec, found = _parse_seed(entry, tooth, where)
    faults += found
    return (None if faults else spec), faults


def _is_tooth(text: str) -> bool:
    try:
        parse_tooth(text)
    except InputError:
        return False
    return True


def _parse_mesh(
    entry: dict[str, object], tooth: str, where: str, files: tuple[Path, str]
) -> tuple[RegionSpec | None, list[Fault]]:
    folder, length_unit = files
    name = entry["mesh"]
    if not isinstance(name, str) or not name:
        return None, [Fault(f"{where}.mesh", "is not a file name", "name an STL, PLY or OBJ file")]
    if "seed_mm" in entry or "radius_mm" in entry:
        return None, [Fault(where, "has both a mesh and a seed", "keep one of them")]
    try:
        return MeshRegion(tooth, read_surface(folder / name, length_unit=length_unit)), []
    except MeshError as error:
        return None, [Fault(f"{where}.mesh", error.message, error.hint)]


def _parse_seed(entry: dict[str, object], tooth: str, where: str) -> tuple[RegionSpec | None, list[Fault]]:
    faults = []
    seed, radius = entry.get("seed_mm"), entry.get("radius_mm")
    if not isinstance(seed, list) or len(seed) != 3 or not all(_is_number(v) for v in seed):
        faults.append(Fault(f"{where}.seed_mm", "is not three numbers", "give x, y and z in mm, reference's frame"))
    if not _is_number(radius) or not 0 < float(radius) <= _LARGEST_RADIUS_MM:
        faults.append(
            Fault(f"{where}.radius_mm", f"is not between 0 and {_LARGEST_RADIUS_MM:g} mm", "give some 3 to 5 mm")
        )
    if faults or not isinstance(seed, list) or not _is_number(radius):
        return None, faults
    return SeedRegion(tooth, np.array(seed, dtype=np.float64), float(radius)), []


def _is_number(value: object) -> TypeGuard[int | float]:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
