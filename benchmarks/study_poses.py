"""How often is the pose of a poured scan found, refused, or wrong: random poses of generated arches and real casts.

Run: ``python benchmarks/study_poses.py FILE.jsonl [--trials N] [--fine] [--only WORD]``. Every trial has its own seed and
is appended to the file; a run that was stopped goes on where it ended. ``--report`` only prints the tables, ``--gates`` asks
what the refusals look at.

A pose is right when the poured scan's vertices lie within 0.1 mm (rms) of their true places; within 0.5 mm where the
check itself leaves open which units moved, or says that there are too few. Of pairs that should fit,
right is a success, anything else a failure. Of pairs that should not (mirrored, another arch), a refusal is the success.
Where the scans may not tell (a few teeth, equal teeth) both right and refused will do. A wrong pose is always a failure.
"""

import argparse
import contextlib
import json
import time
from collections import defaultdict
from pathlib import Path

import numpy as np
from pose_scenes import Pair, draw_generated, draw_real

from seatwright.arch import SeedRegion, UnitRegion, assign_regions
from seatwright.cast import Overlap, check_cast
from seatwright.cast._pose import find_global_pose, search_global_pose
from seatwright.cast._units import fit_units
from seatwright.errors import CannotCompute

RIGHT_MM = 0.1
RIGHT_ALONE_MM = 0.5  # of a pose whose frame no majority of units holds, as there were too few
FITS = (
    "whole",
    "half",
    "third",
    "partial",
    "partial half",
    "base",
    "holes",
    "base and holes",
    "half with holes",
    "symmetric",
)
OPEN = ("a few teeth", "equal", "equal half", "crossing", "sliver")
NEVER = ("mirrored", "mirrored half", "other arch")
CASTS = ("lower_cast", "upper_cast")
REAL_FITS = ("whole", "open", "half", "half open", "partial", "partial open", "holes", "open holes", "partial half")
REAL_NEVER = ("mirrored", "mirrored half", "mirrored open", "other arch")
MODELLED = ("modelled_teeth_lower", "modelled_teeth_upper")
MODELLED_FITS = ("whole", "half", "holes")


def list_trials(n: int, first: int = 0) -> list[tuple[str, str, int]]:
    """Source, kind and seed of `n` pairs that should fit from either source, and fewer that should not or may not."""
    trials = [("generated", FITS[k % len(FITS)], k) for k in range(n)]
    for k in range(n):
        name = (CASTS * 4 + MODELLED)[(k // len(REAL_FITS)) % 10]
        kinds = MODELLED_FITS if name in MODELLED else REAL_FITS
        trials.append((name, kinds[k % len(kinds)], k))
    for k in range(n // 5):
        trials.append(("generated", (OPEN[:3] + NEVER)[k % 6], k))
        trials.append((CASTS[k // 4 % 2], REAL_NEVER[k % 4], k))
    for k in range(n // 6):  # each scan lacks what the other has; a sliver of a cast
        trials.append(("generated", "crossing", k))
        trials.append((CASTS[k % 2], ("crossing", "sliver")[k // 2 % 2], k))
    order = np.random.default_rng(n).permutation(len(trials))  # a run that is stopped has seen some of everything
    return [(trials[k][0], trials[k][1], trials[k][2] + first) for k in order]


def expected(kind: str) -> str:
    return "never" if kind in NEVER + REAL_NEVER else "open" if kind in OPEN else "fits"


def draw(source: str, kind: str, seed: int, *, fine: bool) -> tuple[Pair, tuple[UnitRegion, ...]]:
    if source == "generated":
        pair = draw_generated(kind, seed, 650 if fine else 320)
    else:
        pair = draw_real(kind, seed, source, fine=fine)
    # a sliver may show no unit at all
    named = [SeedRegion(t, s, 3.5) for t, s in pair.seeds.items()]
    return pair, assign_regions(pair.reference, named) if named else ()


def run_trial(source: str, kind: str, seed: int, *, fine: bool) -> dict[str, object]:
    pair, regions = draw(source, kind, seed, fine=fine)
    row: dict[str, object] = {
        "source": source, "kind": kind, "seed": seed, "n_units": len(pair.seeds), "n_moved": pair.n_moved,
        "n_vertices": pair.reference.n_vertices, "n_poured": pair.poured.n_vertices,
    }  # fmt: skip
    start, busy = time.perf_counter(), time.process_time()
    try:
        result = check_cast(pair.reference, pair.poured, regions, tolerance_um=50, repeatability_um=0)
        # where the check says that it is open which unit moved, its frame may be that of a moved one
        limit = RIGHT_MM if result.is_unique else RIGHT_ALONE_MM
        row |= judge(pair, result.T_reference_poured, result.overlap, limit)
    except CannotCompute as refusal:
        row |= {"outcome": "refused", "why": refusal.message, "details": refusal.details}
    row |= {"seconds": time.perf_counter() - start, "processor_s": time.process_time() - busy}
    if "n_needed" in row.get("details", {}):  # too few units lie in both scans for a check: judge the pose alone
        with contextlib.suppress(CannotCompute):
            found = find_global_pose(pair.reference, pair.poured, regions)
            row |= judge(pair, found.T_reference_poured, found.overlap, RIGHT_ALONE_MM)
    return row


def judge(pair: Pair, T: np.ndarray, overlap: Overlap, limit_mm: float = RIGHT_MM) -> dict[str, object]:
    error = pair.error_mm(T)
    outcome = "right" if error < limit_mm else "wrong"
    share = max(overlap.reference_share, overlap.poured_share)
    return {
        "outcome": outcome,
        "error_um": round(1e3 * error, 2),
        "share": share,
        "rival": overlap.rival_share,
        "close": overlap.close_share,
    }


def run_gates(source: str, kind: str, seed: int, *, fine: bool) -> dict[str, object]:
    """What the gates see at the best pose there is, refused or not: on these numbers the thresholds stand."""
    pair, regions = draw(source, kind, seed, fine=fine)
    row: dict[str, object] = {
        "source": source,
        "kind": kind,
        "seed": seed,
        "n_like": 0,
        "n_measured": 0,
        "scale_mm": None,
    }
    found = search_global_pose(pair.reference, pair.poured, regions)[1]
    if found is None:
        return row
    overlap = found.overlap
    row |= {"error_mm": pair.error_mm(found.T_reference_poured), "close_share": overlap.close_share}
    row |= {"share": max(overlap.reference_share, overlap.poured_share), "rival": overlap.rival_share}
    try:
        fits = fit_units(found, regions)
    except CannotCompute:
        return row
    shifts = np.linalg.norm(fits.fit.poses.shifts, axis=1)[fits.is_measured]
    scales = fits.scales_mm[fits.is_measured]
    return row | {
        "n_measured": len(scales), "scale_mm": float(np.median(scales)), "scales_mm": scales.tolist(),
        "shifts_mm": shifts.tolist(),
    }  # fmt: skip


def report_gates(rows: list[dict[str, object]]) -> None:
    print("\nwhat the gates see (smallest, 5 %, median, 95 %, largest)")
    for name in ("close_share", "rival", "scale_mm"):
        for wanted in ("fits", "never", "open"):
            seen = [r[name] for r in rows if expected(str(r["kind"])) == wanted and r.get(name) is not None]
            if seen:
                at = np.percentile(np.array(seen, dtype=float), (0, 5, 50, 95, 100))
                print(f"{name:12s}{wanted:7s}{len(seen):5d}" + "".join(f"{v:9.3f}" for v in at))


def is_failure(row: dict[str, object]) -> bool:
    wanted = expected(str(row["kind"]))
    return row["outcome"] == "wrong" or ((wanted == "fits") != (row["outcome"] == "right") and wanted != "open")


def report(rows: list[dict[str, object]]) -> None:
    groups: dict[tuple[str, str, str], list[dict[str, object]]] = defaultdict(list)
    for row in rows:
        source = "real" if row["source"] in CASTS else "modelled" if row["source"] in MODELLED else "generated"
        groups[source, expected(str(row["kind"])), str(row["kind"])].append(row)
        groups[source, expected(str(row["kind"])), "(all)"].append(row)
    print(f"{'source':10s}{'expected':9s}{'kind':17s}{'n':>5s}{'right':>6s}{'refused':>8s}{'wrong':>6s}{'failed':>7s}"
          f"{'error p50, p95 µm':>19s}{'share min':>10s}{'rival max':>10s}{'s p50, p95':>13s}")  # fmt: skip
    for (source, wanted, kind), mine in sorted(groups.items()):
        count = {o: sum(r["outcome"] == o for r in mine) for o in ("right", "refused", "wrong")}
        right = [r for r in mine if r["outcome"] == "right"]
        errors = np.array([r["error_um"] for r in right] or [np.nan], dtype=float)
        seconds = np.array([r["seconds"] for r in mine], dtype=float)
        least = min((float(r["share"]) for r in right), default=np.nan)  # type: ignore[arg-type]
        rival = max((float(r["rival"]) for r in right), default=np.nan)  # type: ignore[arg-type]
        print(f"{source:10s}{wanted:9s}{kind:17s}{len(mine):5d}{count['right']:6d}{count['refused']:8d}{count['wrong']:6d}"
              f"{sum(map(is_failure, mine)):7d}{np.median(errors):11.2f}{np.percentile(errors, 95):8.2f}"
              f"{least:10.3f}{rival:10.3f}{np.median(seconds):8.2f}{np.percentile(seconds, 95):6.2f}")  # fmt: skip
    for row in rows:
        if is_failure(row):
            print("failed:", {k: v for k, v in row.items() if k not in ("seconds", "processor_s")})


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", type=Path)
    parser.add_argument("--trials", type=int, default=40)
    parser.add_argument("--fine", action="store_true", help="scans of 88,000 (generated) to 119,000 vertices (casts)")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--only", default="")
    parser.add_argument("--limit-s", type=float, default=float("inf"))
    parser.add_argument("--report", action="store_true")
    parser.add_argument("--gates", action="store_true")
    given = parser.parse_args()
    rows = [json.loads(line) for line in given.file.read_text().splitlines()] if given.file.exists() else []
    done = {(r["source"], r["kind"], r["seed"]) for r in rows}
    start = time.perf_counter()
    if not given.report:
        todo = [
            t
            for t in list_trials(given.trials, given.first)
            if t not in done and given.only in " ".join((*map(str, t), expected(t[1])))
        ]
        for number, (source, kind, seed) in enumerate(todo):
            if time.perf_counter() - start > given.limit_s:
                break
            row = (run_gates if given.gates else run_trial)(source, kind, seed, fine=given.fine)
            rows.append(row)
            with given.file.open("a") as out:
                out.write(json.dumps(row) + "\n")
            if not given.gates and is_failure(row):
                print(f"{number + 1}/{len(todo)} failed: {row}", flush=True)
    (report_gates if given.gates else report)(rows)


if __name__ == "__main__":
    main()
