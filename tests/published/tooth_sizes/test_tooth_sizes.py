"""Crowns of generated arches, measured back from their surface, against the published mean sizes.

The table is rounded to half a millimeter (half a step: 0.25 mm); the model is held to 0.12 mm, since its crests are
rounded and the gum's edge is drawn up on the neck.
"""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from seatwright.case import Arch
from seatwright.demo import ArchSpec, ToothPart, generate_arch

EXPECTED = tomllib.loads((Path(__file__).parent / "source.toml").read_text(encoding="utf-8"))["expected"]
TOLERANCE_MM = 0.12
CASES = [
    (arch, 10 * quadrant + position, EXPECTED[row][position - 1])
    for arch, row, quadrant in ((Arch.MAXILLA, "upper", 2), (Arch.MANDIBLE, "lower", 4))
    for position in range(1, 8)
]


@pytest.mark.parametrize(("arch", "tooth", "printed"), CASES, ids=[str(tooth) for _, tooth, _ in CASES])
def test_generated_crown_has_the_published_mean_size(arch: Arch, tooth: int, printed: list[str]) -> None:
    spec = ArchSpec(arch, (ToothPart(tooth),))
    scan = generate_arch(spec, grid_mm=0.35, rng=np.random.default_rng(tooth), noise_um=0.0)
    field = scan.truth.field
    (solid,) = field.solids
    local = solid.to_local(scan.vertices_mm[field.nearest_unit(scan.vertices_mm) == tooth])
    width_md, width_bl, _ = local.max(axis=0) - local.min(axis=0)
    measured = [local[:, 2].max(), width_md, width_bl]
    assert measured == pytest.approx([float(value) for value in printed], abs=TOLERANCE_MM)
