"""The invented case through the command line: it must show the caught mistake, the floated die, the badly kept impression."""

import json
import re


def _dossier(demo):
    return json.loads((demo.dossier / "dossier.json").read_text(encoding="utf-8"))


def test_demo_prints_a_verdict_and_says_where_the_dossier_is(demo) -> None:
    assert "retake" in demo.ran.out.lower()
    assert str(demo.dossier) in demo.ran.out.replace("\n", "")
    assert str(demo.case) in demo.ran.out.replace("\n", "")


def test_demo_catches_the_mirror_tooth_die_and_falls_back_to_masking(demo) -> None:
    units = {unit["tooth"]: unit for unit in _dossier(demo)["result"]["dies"]["units"]}
    assert units[43]["chosen"] == "masked"
    told = json.dumps(units[43]["findings"]) + json.dumps(units[43]["ranked"])
    assert "33" in told


def test_demo_cast_check_finds_the_floated_die_and_no_other(demo) -> None:
    units = {u["tooth"]: u for u in _dossier(demo)["result"]["cast"][0]["check"]["units"]}
    moved = {tooth for tooth, unit in units.items() if unit["verdict"] == "does_not_conform"}
    assert moved == {"44"}


def test_demo_says_to_retake_the_impression_that_lay_open(demo) -> None:
    stops = [f for f in _dossier(demo)["findings"] if f["severity"] == "stop"]
    assert any("new impression" in f["do"].lower() and "opposing" in f["about"] for f in stops)


def test_dossier_envelope_carries_schema_version_and_input_hashes(demo) -> None:
    document = _dossier(demo)
    assert document["schema"] == "seatwright/result/1/dossier"
    names = {entry["name"] for entry in document["inputs"]}
    assert {"case.toml", "log.jsonl", "bench.toml"} <= names
    assert all(re.fullmatch(r"[0-9a-f]{64}", entry["sha256"]) for entry in document["inputs"])


def test_dossier_folder_holds_page_papers_figures_and_surface(demo) -> None:
    names = {p.relative_to(demo.dossier).as_posix() for p in demo.dossier.rglob("*") if p.is_file()}
    assert {"index.html", "dossier.json", "bench-card.pdf", "die-labels.pdf"} <= names
    assert any(n.endswith(".glb") for n in names)
    assert any(n.startswith("figures/") and n.endswith(".svg") for n in names)
    assert any(n.startswith("figures/") and n.endswith(".png") for n in names)


def test_dossier_of_the_demo_case_can_be_run_again_with_equal_numbers(demo, seatwright, tmp_path) -> None:
    ran = seatwright("dossier", demo.case, "--out", tmp_path / "again", "--json")
    assert ran.code == 0, ran.err
    assert ran.json["result"] == _dossier(demo)["result"]


def test_the_case_keeps_no_trace_of_the_known_truth(demo) -> None:
    text = "".join(p.read_text(encoding="utf-8") for p in demo.case.iterdir() if p.suffix in {".toml", ".jsonl"})
    assert "truth" not in text.lower()


def test_nothing_on_the_arch_sheet_of_the_demo_is_cut_short(demo) -> None:
    drawn = (demo.dossier / "figures" / "arch-sheet.svg").read_text(encoding="utf-8")
    texts = [text.replace("\u00a0", " ") for text in re.findall(r">([^<>]+)</t(?:ext|span)>", drawn)]
    assert not [text for text in texts if "…" in text]
    # 180 µm low and 1.2 degrees about the crown's middle: at its edge, some 4.3 mm under it, the root of 180² + 90²
    assert any(re.fullmatch(r"(19\d|20\d)(\.\d)? ± \d+(\.\d)? µm", text) for text in texts)
