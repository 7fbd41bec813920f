"""`seatwright survey --mesh` without a path: find one first. Parses and prints; no calculation."""

from dataclasses import dataclass
from pathlib import Path

from rich.console import Console

from seatwright import wiring
from seatwright.cli import _show
from seatwright.cli._survey_bench import require_clearance
from seatwright.errors import InputError
from seatwright.mesh import Surface, join_vertices
from seatwright.survey import LooseWindow, find_loose_window
from seatwright.workflows.ports import InputFile

__all__ = ["WindowAsked", "find_window", "show_window"]

_WIDEST_DEG = 60.0  # definition: the search is drawn in a plane; nothing surveyed leans so far


@dataclass(frozen=True, slots=True)
class WindowAsked:
    """Options of the search for a path of a loose surface."""

    max_tilt_deg: float = 20.0
    framework: Path | None = None
    clearance_um: float = 0.0
    length_unit: str = "mm"


def find_window(surface: Surface, asked: WindowAsked) -> tuple[LooseWindow, list[InputFile]]:
    """Search the paths of a surface, or of a framework on it; also return what more was read."""
    if not 0.0 < asked.max_tilt_deg < _WIDEST_DEG:
        raise InputError(
            f"--max-tilt-deg {asked.max_tilt_deg:g} is not between 0 and {_WIDEST_DEG:g}", hint="20 is usual"
        )
    require_clearance(asked.clearance_um)
    part, files = None, []
    if asked.framework is not None:
        part, file = wiring.read_loose_part(asked.framework, option="--framework", length_unit=asked.length_unit)
        files = [file]
    joined, _ = join_vertices(surface)
    with _show.progress_bar() as progress:
        window = find_loose_window(
            joined, asked.max_tilt_deg, framework=part, clearance_um=asked.clearance_um, progress=progress
        )
    return window, files


def show_window(window: LooseWindow) -> None:
    """Print the regions, widest first, and the path taken."""
    console = Console(highlight=False)
    if window.is_empty:
        console.print("[bold]No window[/bold]: undercuts along every path tried; least shadow along the path below")
    for k, region in enumerate(window.regions, start=1):
        console.print(
            f"[bold]Window {k}[/bold]: {region.in_radius_deg:.2f} degrees to the nearest limit, "
            f"{region.antero_posterior_deg:.2f} along y, {region.lateral_deg:.2f} along x",
            soft_wrap=True,
        )
    console.print(f"    the path leans {window.tilt.total_deg:.2f} degrees from +z", soft_wrap=True)
