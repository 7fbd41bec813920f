"""Each section of a case in one line: its own verdict, and as grave as the gravest thing that it tells."""

from typing import Any

from seatwright.papers import say_sections


def _view(**more: Any) -> dict[str, Any]:
    job = [
        {"name": "dies", "word": "1 without a die", "severity": "stop", "when": ""},
        {"name": "pour", "word": "pour by", "severity": "note", "when": "09:42"},
        {"name": "framework", "word": "not yet", "severity": "", "when": ""},
    ]
    view = {
        "support": {"shown": "Kennedy class II", "questions": []},
        "job": job,
        "units": [
            {"technique": "gel", "label": "44"},
            {"technique": "none is safe", "label": "43"},
            {"technique": "gel", "label": "35"},
        ],
        "timetable": {"verdict": "", "is_late": False},
        "casts": [{"verdict": "44 moved."}],
        "path": {"verdict": "", "why_not": "no scan"},
        "fit": {"verdict": "", "why_not": "nothing that must fit"},
        "findings": [{"severity": "stop"}, {"severity": "note"}, {"severity": "note"}],
    }
    return {**view, **more}


def test_a_section_says_its_verdict_or_why_there_is_none() -> None:
    says = {name: line["says"] for name, line in say_sections(_view()).items()}
    assert says["dies"] == "gel 44, 35; none is safe 43"
    assert says["pour"] == "Pour by 09:42."
    assert (says["cast"], says["survey"], says["fit"]) == ("44 moved.", "no scan", "nothing that must fit")
    assert says["later"] == "framework not yet"
    assert says["all"] == "1 to stop for, 2 to know"


def test_a_line_is_as_grave_as_the_gravest_that_it_tells() -> None:
    late = say_sections(_view(timetable={"verdict": "Does not fit.", "is_late": True}))
    assert (late["pour"]["says"], late["pour"]["severity"]) == ("Pour by 09:42. Does not fit.", "warning")
    assert late["dies"]["severity"] == "stop"
    assert late["survey"]["severity"] == ""
