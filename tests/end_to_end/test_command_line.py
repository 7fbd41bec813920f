"""The boundary: one JSON shape, one table of exit codes, nothing half-written, a fast table of commands."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[2]
HEAVY = {
    "numpy",
    "scipy",
    "numba",
    "trimesh",
    "pydantic",
    "ortools",
    "rich",
    "typst",
    "seatwright.workflows",
    "seatwright.wiring",
}


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys, contextlib, io\n"
        "from seatwright.cli import main\n"
        "with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):\n"
        "    main(['--help'])\n"
        "print('\\n'.join(sys.modules))"
    )
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment)
    loaded = ran.stdout.split()
    assert not HEAVY & set(loaded)


UNTIL_IT_LISTENS = (HEAVY - {"seatwright.wiring"}) | {
    "fastapi",
    "starlette",
    "sqlalchemy",
    "alembic",
    "psutil",
    "PIL",
    "shapely",
    "matplotlib",
}
IN_WORKERS_ALONE = {"trimesh", "matplotlib", "networkx"}


def modules_after(code: str) -> set[str]:
    """Return what is imported in a fresh process once the code has run."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    shown = f"{code}\nimport sys; print('\\n'.join(sys.modules))"
    ran = subprocess.run([sys.executable, "-c", shown], capture_output=True, text=True, check=True, env=environment)
    return set(ran.stdout.split())


def test_the_page_listens_before_any_library_of_the_tool_is_read() -> None:
    loaded = modules_after(
        "from seatwright.cli import _serve; from seatwright.web._waiting import WaitingPage; WaitingPage()"
    )
    assert {"uvicorn", "seatwright.web._serve", "seatwright.wiring"} <= loaded
    assert not UNTIL_IT_LISTENS & loaded


def test_the_process_that_answers_leaves_the_readers_of_scans_to_its_workers() -> None:
    loaded = modules_after("import seatwright.web.app")
    assert {"fastapi", "seatwright.web.app"} <= loaded
    assert not IN_WORKERS_ALONE & loaded


@pytest.mark.parametrize("command", ["dies", "pour", "cast", "survey"])
def test_json_answer_is_one_object_and_nothing_else(command, demo, seatwright) -> None:
    ran = seatwright(command, demo.case, "--json")
    assert ran.code == 0, ran.err
    assert set(ran.json) == {"schema", "seatwright", "inputs", "result", "findings"}


@pytest.mark.parametrize(
    ("command", "named"), [("dies", "44"), ("pour", "opposing-2"), ("cast", "44"), ("survey", "slide-35")]
)
def test_words_answer_names_units_or_impressions(command, named, demo, seatwright) -> None:
    ran = seatwright(command, demo.case)
    assert ran.code == 0, ran.err
    assert named in ran.out


def test_cast_result_keeps_the_contract(demo, seatwright) -> None:
    result = seatwright("cast", demo.case, "--json").json["result"]
    T = np.array(result["T_reference_poured"])
    assert T.shape == (4, 4)
    assert np.allclose(T[3], [0, 0, 0, 1])
    assert np.allclose(T[:3, :3] @ T[:3, :3].T, np.eye(3), atol=1e-9)
    assert result["converged"] is True
    assert result["stable_rms_um"] > 0
    for unit in result["units"]:
        assert {"tooth", "shift_mm", "turn_deg", "u_shift_mm", "u_turn_deg", "verdict"} <= set(unit)
        assert unit["tooth"] not in result["stable_units"] or unit["verdict"] != "does_not_conform"


def test_loose_files_give_the_same_answer_as_the_case(demo, seatwright, tmp_path) -> None:
    import tomllib

    case = tomllib.loads((demo.case / "case.toml").read_text(encoding="utf-8"))
    scans = {scan["role"]: demo.case / scan["file"] for scan in case["scan"] if scan["arch"] == case["arch"]}
    regions = [{"tooth": str(r["tooth"]), "seed_mm": r["seed_mm"], "radius_mm": r["radius_mm"]} for r in case["region"]]
    file = tmp_path / "regions.json"
    file.write_text(json.dumps(regions), encoding="utf-8")
    ran = seatwright(
        "cast", "--reference", scans["reference"], "--poured", scans["poured"], "--unit-regions", file,
        "--tolerance-um", 50, "--length-unit", "mm", "--out", tmp_path / "pictures", "--json",
    )  # fmt: skip
    assert ran.code == 0, ran.err
    made = {path.name for path in (tmp_path / "pictures").iterdir() if not path.name.startswith(".")}
    drawn = {f"{name}-1.{kind}" for name in ("intervals", "movements", "deviation") for kind in ("svg", "png")}
    assert made == drawn | {"deviation-1.glb", "cast.json"}
    assert json.loads((tmp_path / "pictures" / "cast.json").read_text(encoding="utf-8")) == ran.json
    verdicts = {unit["tooth"]: unit["verdict"] for unit in ran.json["result"]["units"]}
    assert verdicts["44"] == "does_not_conform"


def test_strict_turns_a_failed_verdict_into_exit_ten(demo, seatwright) -> None:
    assert seatwright("cast", demo.case, "--strict").code == 10


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["no-such-command"], 2),
        (["dies"], 2),
        (["dies", "nowhere"], 2),
        (["cast"], 2),
        (["cast", "--reference", "a.stl"], 2),
        (["dies", "nowhere", "--now", "yesterday"], 2),
        (["dies", "nowhere", "--now", "2026-03-10T09:30:00"], 2),
    ],
)
def test_usage_error_is_told_in_the_one_shape(arguments, code, seatwright) -> None:
    ran = seatwright(*arguments, "--json")
    assert ran.code == code, ran.out + ran.err
    assert set(ran.json["error"]) == {"code", "message", "hint", "details"}
    assert ran.json["error"]["message"]


def test_bare_command_shows_the_help(seatwright) -> None:
    ran = seatwright()
    assert ran.code == 0
    assert "dossier" in ran.out


def _broken_copy(demo, tmp_path):
    copy = tmp_path / "case"
    shutil.copytree(demo.case, copy)
    return copy


def test_case_error_names_file_field_and_remedy_and_writes_nothing(demo, seatwright, tmp_path) -> None:
    copy = _broken_copy(demo, tmp_path)
    text = (copy / "case.toml").read_text(encoding="utf-8")
    (copy / "case.toml").write_text(text.replace('kind = "pontic"', 'kind = "pontik"'), encoding="utf-8")
    ran = seatwright("dossier", copy, "--out", tmp_path / "dossier", "--json")
    assert ran.code == 2
    fault = ran.json["error"]["details"]["faults"][0]
    assert "case.toml" in fault["where"]
    assert "pontic" in fault["what"] + fault["hint"]
    assert not (tmp_path / "dossier").exists()
    assert [p.name for p in tmp_path.iterdir()] == ["case"]


def test_truncated_scan_names_the_file_and_writes_nothing(demo, seatwright, tmp_path) -> None:
    copy = _broken_copy(demo, tmp_path)
    scan = next(p for p in copy.rglob("*") if "poured" in p.name and p.suffix in {".stl", ".ply"})
    data = scan.read_bytes()
    scan.write_bytes(data[: len(data) // 2])
    ran = seatwright("dossier", copy, "--out", tmp_path / "dossier", "--json")
    assert ran.code == 2
    assert scan.name in ran.json["error"]["message"]
    assert not (tmp_path / "dossier").exists()


def test_event_in_the_future_is_an_error(demo, seatwright) -> None:
    ran = seatwright("pour", demo.case, "--now", "2026-01-01T00:00:00Z", "--json")
    assert ran.code == 2
    assert "log.jsonl" in json.dumps(ran.json)


def test_dossier_refuses_to_replace_a_folder_it_did_not_write(demo, seatwright, tmp_path) -> None:
    foreign = tmp_path / "precious"
    foreign.mkdir()
    (foreign / "thesis.txt").write_text("years of work", encoding="utf-8")
    ran = seatwright("dossier", demo.case, "--out", foreign, "--json")
    assert ran.code == 5
    assert (foreign / "thesis.txt").read_text(encoding="utf-8") == "years of work"


def test_compiled_kernels_go_to_the_users_cache_when_nothing_else_is_said(demo, tmp_path) -> None:
    code = (
        "import contextlib, io\n"
        "from seatwright.cli import main\n"
        f"with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):\n    main(['dies', {str(demo.case)!r}])\n"
        "import numba\nprint(numba.config.CACHE_DIR)"
    )
    environment = {k: v for k, v in os.environ.items() if k != "NUMBA_CACHE_DIR"}
    environment |= {"PYTHONPATH": str(ROOT / "src"), "XDG_CACHE_HOME": str(tmp_path)}
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment)
    assert ran.stdout.strip() == str(tmp_path / "seatwright" / "kernels")
