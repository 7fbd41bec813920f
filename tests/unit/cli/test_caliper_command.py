"""`seatwright caliper` on files: one JSON object, words that begin with the verdict, exit codes, templates, pictures."""

import json

import numpy as np
import pytest
from tests.examples import demo_bench, demo_case
from tests.unit.cast.caliper_readings import ARCH, read_marks

from seatwright.case import HandReadings
from seatwright.cli._boundary import EXIT_NOT_CONFORMING
from seatwright.cli._caliper import CaliperOptions, run_caliper, run_case_caliper
from seatwright.errors import CaseError, ConflictError, InputError
from seatwright.files import bench_to_toml, case_to_toml

INDEX = "fixed;at;passes_um;stops_um\n37;33;0;8\n37;43;80;100\n37;47;0;8\n47;33;0;8\n47;43;80;100\n47;37;0;8\n"


@pytest.fixture
def sheet(tmp_path):
    def write(**more):
        readings = read_marks(ARCH, np.random.default_rng(1), **more)
        rows = [f"{r.epoch.value};{r.first};{r.second};{r.length_mm:.2f}".replace(".", ",") for r in readings]
        path = tmp_path / "readings.csv"
        path.write_text("epoch;from;to;reading_mm\n" + "\n".join(rows) + "\n", encoding="utf-8")
        return path

    return write


def test_json_is_one_object_and_nothing_else(sheet, capsys) -> None:
    assert run_caliper(CaliperOptions(readings=sheet()), as_json=True) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["schema"].endswith("/caliper")
    assert document["inputs"][0]["name"] == "--readings"
    assert {m["mark"] for m in document["result"]["marks"]} == {"37", "35", "33", "43", "45", "47"}
    assert document["result"]["epochs"][0]["defect"] == 3


@pytest.mark.parametrize("more", [{"epochs": ("cast",)}, {"pairs": [(0, 1), (2, 3)]}, {"s": 0.0}])
def test_every_answer_has_a_json_form(sheet, capsys, more) -> None:
    run_caliper(CaliperOptions(readings=sheet(**more)), as_json=True)
    assert json.loads(capsys.readouterr().out)["result"]["verdict"]


def test_words_begin_with_the_verdict(sheet, capsys) -> None:
    run_caliper(CaliperOptions(readings=sheet(moved={"45": [0.2, 0.1, 0]})))
    out = capsys.readouterr().out
    assert out.startswith("Does not conform: 45 stands")
    assert "never poured again" in out


def test_strict_moved_mark_exits_with_10(sheet) -> None:
    moved = sheet(moved={"45": [0.2, 0.1, 0]})
    assert run_caliper(CaliperOptions(readings=moved), strict=True) == EXIT_NOT_CONFORMING
    assert run_caliper(CaliperOptions(readings=moved, tolerance_um=2000), strict=True) == 0


def test_picture_is_written_where_asked(sheet, tmp_path) -> None:
    run_caliper(CaliperOptions(readings=sheet(), svg=tmp_path / "plan.svg"), as_json=True)
    assert (tmp_path / "plan.svg").read_text(encoding="utf-8").startswith("<svg")


def test_index_names_the_abutment(tmp_path, capsys) -> None:
    path = tmp_path / "index.csv"
    path.write_text(INDEX, encoding="utf-8")
    assert run_caliper(CaliperOptions(index=path), strict=True) == EXIT_NOT_CONFORMING
    assert "43 stands" in capsys.readouterr().out
    run_caliper(CaliperOptions(index=path), as_json=True)
    document = json.loads(capsys.readouterr().out)
    assert document["schema"].endswith("/index")
    assert document["result"]["is_located"] is True


def test_templates_are_written_once(tmp_path) -> None:
    asked = CaliperOptions(template=tmp_path / "r.csv", index_template=tmp_path / "i.csv", marks="37, 33,43 ,47")
    assert run_caliper(asked) == 0
    assert "mouth,37,33,,,1" in (tmp_path / "r.csv").read_text(encoding="utf-8")
    assert "37,33,,,," in (tmp_path / "i.csv").read_text(encoding="utf-8")
    with pytest.raises(ConflictError):
        run_caliper(asked)


@pytest.mark.parametrize("marks", ["37,33", "a;b,c,d", "#1,2,3", '"x",y,z', "a\tb,\x1bc,d", "x" * 30 + ",b,c"])
def test_marks_that_would_spoil_a_sheet_are_refused(marks, tmp_path) -> None:
    with pytest.raises(InputError):
        run_caliper(CaliperOptions(template=tmp_path / "r.csv", marks=marks))
    assert not (tmp_path / "r.csv").exists()


@pytest.mark.parametrize(
    "asked",
    [{}, {"dimension": "4"}, {"template": True}, {"index": True, "readings": True}],
)
def test_contradicting_options_are_refused(asked, sheet, tmp_path) -> None:
    options = {
        k: (sheet() if v is True and k != "template" else tmp_path / "t.csv" if v is True else v)
        for k, v in asked.items()
    }
    if "dimension" in options:
        options["readings"] = sheet()
    with pytest.raises(InputError):
        run_caliper(CaliperOptions(**options))


@pytest.fixture
def case_folder(sheet, tmp_path):
    """A case whose readings stand in its folder."""
    folder = tmp_path / "case"
    folder.mkdir()
    case = demo_case(scan=(), region=(), by_hand=HandReadings(distances="readings.csv", gaps="index.csv"))
    (folder / "case.toml").write_bytes(case_to_toml(case))
    (folder / "bench.toml").write_bytes(bench_to_toml(demo_bench()))
    sheet(moved={"45": [0.2, 0.1, 0]}).rename(folder / "readings.csv")
    (folder / "index.csv").write_text(INDEX, encoding="utf-8")
    return folder


def test_case_says_itself_what_was_read(case_folder, tmp_path, capsys) -> None:
    assert run_case_caliper(case_folder, CaliperOptions(), strict=True) == EXIT_NOT_CONFORMING
    out = capsys.readouterr().out
    assert "45 stands" in out
    assert "43 stands" in out
    run_case_caliper(case_folder, CaliperOptions(svg=tmp_path / "plan.svg"), as_json=True)
    document = json.loads(capsys.readouterr().out)
    assert set(document["result"]) == {"caliper", "index"}
    assert {"readings.csv", "index.csv"} <= {i["name"] for i in document["inputs"]}
    assert (tmp_path / "plan.svg").read_text(encoding="utf-8").startswith("<svg")
    with pytest.raises(InputError, match="itself"):
        run_case_caliper(case_folder, CaliperOptions(tolerance_um=80))
    (case_folder / "readings.csv").unlink()
    with pytest.raises(CaseError, match=r"by_hand\.distances"):
        run_case_caliper(case_folder, CaliperOptions())
