"""The invented scenario and the procedural arches behind it: used by the command, tests and benchmarks."""

from seatwright.demo._rehearsal import rehearse
from seatwright.demo._scan import GeneratedScan, ScanTruth, draw_pose, generate_arch
from seatwright.demo._scenario import DemoCase, DemoTruth, make_demo_case, make_demo_spec
from seatwright.demo._spec import (
    ArchSpec,
    BarPart,
    Form,
    Link,
    Movement,
    SlidePart,
    StudPart,
    ToothPart,
    make_random_spec,
    make_spec,
)

__all__ = [
    "ArchSpec",
    "BarPart",
    "DemoCase",
    "DemoTruth",
    "Form",
    "GeneratedScan",
    "Link",
    "Movement",
    "ScanTruth",
    "SlidePart",
    "StudPart",
    "ToothPart",
    "draw_pose",
    "generate_arch",
    "make_demo_case",
    "make_demo_spec",
    "make_random_spec",
    "make_spec",
    "rehearse",
]
