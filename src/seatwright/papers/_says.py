"""What each section says in one line: its verdict and how grave it is, for a page that folds what is not open."""

from collections.abc import Mapping, Sequence
from typing import Any

__all__ = ["say_sections"]

_STEP_OF = {"dies": "dies", "pour": "pour", "cast": "cast", "survey": "survey", "fit": "seat"}
"""Step of the job that speaks for a section."""
_COUNTED = {"stop": "to stop for", "warning": "to act on", "caution": "to mind", "note": "to know"}
_GRAVITY = ("stop", "warning", "caution", "note", "")


def say_sections(view: Mapping[str, Any]) -> dict[str, dict[str, str]]:
    """Return for each section its line and its severity; words come from the view, nothing is judged here.

    Parameters
    ----------
    view : mapping
        Of `view_dossier`.

    Returns
    -------
    mapping of str to {"says": str, "severity": str}
        By name of the section; the severity is empty where there is no verdict.
    """
    job = {step["name"]: step for step in view["job"]}
    lines = {
        "plan": view["support"]["shown"],
        "dies": _dies(view["units"]),
        "pour": " ".join(filter(None, (_words(job.get("pour")), view["timetable"]["verdict"]))),
        "cast": " ".join(cast["verdict"] for cast in view["casts"]) or _words(job.get("cast")),
        "survey": view["path"]["verdict"] or view["path"]["why_not"],
        "fit": _fit(view["fit"]),
        "later": ", ".join(f"{step['name']} {step['word']}" for step in view["job"] if not step["severity"]),
        "all": _count(view["findings"]),
    }
    steps = {name: job.get(step, {}).get("severity", "") for name, step in _STEP_OF.items()}
    steps["plan"] = "caution" if view["support"]["questions"] else ""
    steps["fit"] = "warning" if view["fit"].get("is_grave") else ""
    steps["pour"] = _gravest([steps["pour"], "warning" if view["timetable"]["is_late"] else ""])
    return {name: {"says": line, "severity": steps.get(name, "")} for name, line in lines.items()}


def _words(step: Mapping[str, str] | None) -> str:
    if step is None:
        return ""
    said = f"{step['word']} {step['when']}".strip()
    return f"{said[:1].upper()}{said[1:]}."


def _dies(units: Sequence[Mapping[str, Any]]) -> str:
    """Return each way with the teeth that it is for."""
    ways: dict[str, list[str]] = {}
    for unit in units:
        ways.setdefault(unit["technique"], []).append(unit["label"])
    return "; ".join(f"{way} {', '.join(teeth)}" for way, teeth in ways.items())


def _fit(fit: Mapping[str, Any]) -> str:
    return f"{fit['verdict']} ({fit['range']} over what is poorly known)" if fit["verdict"] else str(fit["why_not"])


def _count(findings: Sequence[Mapping[str, Any]]) -> str:
    """Return how many there are of each severity, the gravest first."""
    counted = {severity: sum(f["severity"] == severity for f in findings) for severity in _COUNTED}
    return ", ".join(f"{n} {_COUNTED[severity]}" for severity, n in counted.items() if n) or "None"


def _gravest(severities: Sequence[str]) -> str:
    return min(severities, key=_GRAVITY.index)
