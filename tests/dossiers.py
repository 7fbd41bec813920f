"""Invented dossiers for tests of drawings and papers, built on the shared example case.

`planned_dossier` stands on the day of the pick-up; `checked_dossier` after the cast was checked: a die floated. Case,
log, bench, support, axes and dies are computed from the example; clock and cast check are written out by hand, so that
a drawing test fails only when the drawing does.
"""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
from tests.examples import DEMO_NOW, OPPOSING, PICK_UP, demo_bench, demo_case, demo_events, demo_scans

from seatwright.case import Duration, Skill, StepCard, Stone, classify_support, fold_events, measure_axis_divergence
from seatwright.cast import CastResult, Overlap, UnitMovement
from seatwright.dies import choose_dies
from seatwright.findings import Finding, Severity, Source, SourceKind, Verdict
from seatwright.mesh import Surface
from seatwright.pour import Band, CostStep, Feasibility, ImpressionClock, ImpressionPhase, Mix, PourResult, SpanCost
from seatwright.quantities import Measured
from seatwright.workflows.ports import InputFile
from seatwright.workflows.results import CastStep, Dossier, Hollow, JobStep

NOW = DEMO_NOW

HOSTILE = (
    '<script>alert(\'x\')</script> & "quotes" #eval("1+1") $x$ \\ ]] {{ 7*7 }} {% raw %} \u202eevil\u202c \u0007 µ ± 歯'
)
"""Text that would do harm in markup, in a template or in a typesetter's source, were it not escaped."""


def _steps_alginate() -> tuple[CostStep, ...]:
    source = Source(SourceKind.PAPER, "invented for this test [alg_x]")
    span = (SpanCost("26 to 16", 52.0, Measured(-52.0, 26.0, "µm")),)
    return (
        CostStep(0, 10, Band.WITHIN, 0.0, 0.05, (), source, "several papers agree"),
        CostStep(10, 30, Band.STRETCHED, -0.1, 0.05, span, source, "papers disagree"),
        CostStep(30, None, Band.BEYOND, None, None, (), source, "no paper supports it"),
    )


def make_pour(now: datetime = NOW) -> PourResult:
    """Return two impressions: a polyether in its window, an alginate left in open air."""
    source = Source(SourceKind.MAKER, "bench file")
    out = now - timedelta(minutes=14)
    unwrapped = Finding(
        "storage-open-air", Severity.WARNING, "The opposing alginate lay in open air for 14 minutes.",
        "It loses water from the first minute; 10 are supported.", "Retake it while the patient is here.", about=OPPOSING,
    )  # fmt: skip
    mix = Mix(
        "first pour",
        Stone.TYPE_4,
        Measured(62.0, 6.0, "ml"),
        0.20,
        150.0,
        30.0,
        1,
        27.9,
        SpanCost("37 to 44", 49.0, Measured(44.0, 12.0, "µm")),
        source,
    )
    base = Mix("base", Stone.TYPE_3, Measured(110.0, 15.0, "ml"), 0.28, 230.0, 64.0, 2, 42.8, None, source)
    cards = (
        StepCard("weigh", "Weigh powder and water", "Water first, then powder; let it soak.", PICK_UP, 0, Skill.MIX, Duration(1, 2, 3), equipment=("balance",), cautions=("Mask on: gypsum dust.",)),
        StepCard("mix", "Mix under vacuum", "By hand until wet, then 30 s under vacuum.", PICK_UP, 0, Skill.MIX, Duration(0.5, 0.7, 1), equipment=("vacuum_mixer",)),
        StepCard("pour", "Brush round the pins, then vibrate in", "From one end, lowest amplitude; no pin may touch the tray.", PICK_UP, 0, Skill.POUR, Duration(2, 3, 5), equipment=("vibrator",), cautions=("Never turn soft stone over.",)),
    )  # fmt: skip
    pick_up = ImpressionClock(
        PICK_UP, ImpressionPhase.WAITING, out, 14.0, out + timedelta(minutes=30), out + timedelta(hours=24), 1440.0, 1426.0,
        Duration(41, 58, 92), 2, Feasibility.FITS, Band.WITHIN,
        (CostStep(0, 1440, Band.WITHIN, 0.0, 0.05, (), source, "maker’s window"), CostStep(1440, None, Band.BEYOND, None, None, (), source, "outside the maker’s window")),
        (mix, base), cards, out + timedelta(hours=2), None, (),
    )  # fmt: skip
    opposing = ImpressionClock(
        OPPOSING, ImpressionPhase.WAITING, out, 14.0, out, out + timedelta(minutes=10), 10.0, -4.0, Duration(4, 6, 9), 1,
        Feasibility.DOES_NOT_FIT, Band.STRETCHED, _steps_alginate(), (), (), out + timedelta(minutes=60), out + timedelta(minutes=75), (unwrapped,),
    )  # fmt: skip
    return PourResult(now, (pick_up, opposing), (unwrapped,))


def make_bumpy_surface(n: int = 60) -> tuple[Surface, np.ndarray, np.ndarray]:
    """Return a horseshoe-like relief, a deviation per vertex (µm) and where it is known."""
    x, y = np.meshgrid(np.linspace(-34, 34, n), np.linspace(-6, 50, n))
    ridge = np.abs(np.hypot(x, (y - 44) * 0.75) - 30)
    z = 9 * np.exp(-((ridge / 6.5) ** 2)) + 0.9 * np.exp(-((ridge / 5) ** 2)) * np.cos(np.arctan2(x, 44 - y) * 16)
    vertices = np.column_stack([x.ravel(), y.ravel(), z.ravel()])
    i, j = np.meshgrid(np.arange(n - 1), np.arange(n - 1))
    a = (j * n + i).ravel()
    faces = np.concatenate([np.column_stack([a, a + 1, a + n]), np.column_stack([a + 1, a + n + 1, a + n])])
    deviation = 180 * np.exp(-(((x + 12) / 6) ** 2) - ((y - 6) / 6) ** 2).ravel() + 8 * np.sin(x.ravel())
    known = (y.ravel() < 48) & (z.ravel() > 0.2)
    return Surface(vertices, faces.astype(np.int32)), deviation, known


MOVEMENTS = {
    37: ((0.006, -0.004, 0.005), (0.05, 0.02, 0.01), 0.004, Verdict.CONFORMS, (28.4, 35.3, 8.0)),
    35: ((-0.010, 0.006, 0.002), (0.1, 0.0, 0.0), 0.004, Verdict.CONFORMS, (20.5, 17.2, 8.0)),
    34: ((-0.008, 0.004, 0.003), (0.0, 0.1, 0.0), 0.005, Verdict.CONFORMS, (16.8, 11.3, 8.0)),
    33: ((-0.012, 0.010, 0.008), (0.0, 0.0, 0.1), 0.004, Verdict.CONFORMS, (12.3, 6.0, 8.0)),
    42: ((0.035, -0.015, 0.034), (0.3, 0.2, 0.1), 0.009, Verdict.CANNOT_TELL, (-7.4, 2.1, 8.0)),
    43: ((0.040, -0.030, 0.180), (1.1, 0.4, 0.2), 0.005, Verdict.DOES_NOT_CONFORM, (-12.3, 6.0, 8.0)),
    44: ((0.004, 0.002, -0.003), (0.0, 0.1, 0.1), 0.004, Verdict.CONFORMS, (-16.8, 11.3, 8.0)),
    45: ((0.002, 0.004, -0.006), (0.0, 0.0, 0.1), 0.004, Verdict.CONFORMS, (-20.5, 17.2, 8.0)),
}


def make_movement(tooth: int) -> UnitMovement:
    """Return one unit's movement from the table above."""
    shift, turn, u_mm, verdict, at = MOVEMENTS[tooth]
    return UnitMovement(
        tooth=str(tooth),
        is_measured=True,
        shift_mm=np.array(shift),
        turn_deg=np.array(turn),
        u_shift_mm=np.full(3, u_mm),
        u_turn_deg=np.full(3, 0.05),
        covariance=np.diag([u_mm**2] * 3 + [1e-6] * 3),
        about_mm=np.array(at),
        is_stable=verdict is Verdict.CONFORMS,
        is_moved=verdict is Verdict.DOES_NOT_CONFORM,
        verdict=verdict,
        u_worst_mm=u_mm,
        weak_turn_axis=None,
        residual_rms_um=6.0,
        n_points=900,
        coverage=0.97,
        inlier_share=0.99,
    )


def make_cast(**changes: object) -> CastStep:
    """Return a cast check in which 43 stands high and 42 cannot be judged."""
    surface, deviation, known = make_bumpy_surface()
    reference, poured = demo_scans()
    fields: dict[str, object] = {
        "T_reference_poured": np.eye(4),
        "converged": True,
        "stable_units": ("37", "35", "44", "45"),
        "stable_rms_um": 4.2,
        "scale": None,
        "units": tuple(make_movement(tooth) for tooth in MOVEMENTS),
        "overlap": Overlap(0.95, 0.94, 4000, 4000, 0.3, 0.2, 0.9, 0.15),
        "noise_um": 9.0,
        "correlated_um": 2.0,
        "correlation_length_mm": 1.5,
        "repeatability_um": 4.0,
        "tolerance_um": 50.0,
        "findings": (),
    }
    return CastStep(reference, poured, CastResult(**{**fields, **changes}), surface, deviation, known)  # type: ignore[arg-type]


NOT_YET = tuple(JobStep(n, "not yet") for n in ("survey", "framework", "remount", "seat"))


def planned_dossier(**changes: object) -> Dossier:
    """Return the dossier of the pick-up day: two impressions wait."""
    case = demo_case()
    state = fold_events(demo_events(), case, now=NOW)
    dies, pour = choose_dies(case, state), make_pour()
    fields: dict[str, object] = {
        "case": case,
        "bench": demo_bench(),
        "state": state,
        "now": NOW,
        "inputs": (InputFile("case.toml", "ab" * 32, 5120), InputFile("log.jsonl", "cd" * 32, 2048)),
        "support": classify_support(case.teeth, case.arch),
        "axes": measure_axis_divergence(case),
        "dies": dies,
        "pour": pour,
        "casts": (),
        "headline": "Retake the opposing alginate now: it dried for 14 minutes. The pick-up can wait.",
        "headline_severity": Severity.WARNING,
        "hollow": Hollow("4 min late", "opposing alginate, 10 min in open air supported"),
        "job": (
            JobStep("pick-up", "one retake", Severity.WARNING, NOW - timedelta(minutes=14)),
            JobStep("dies", "one die refused", Severity.CAUTION),
            JobStep("pour", "fits", Severity.NOTE, NOW + timedelta(hours=23, minutes=46)),
            JobStep("cast", "not yet"),
            *NOT_YET,
        ),
        "findings": (*pour.findings, *dies.findings),
    }  # fmt: skip
    return Dossier(**{**fields, **changes})  # type: ignore[arg-type]


def checked_dossier(**changes: object) -> Dossier:
    """Return the dossier after the cast check: a die floated."""
    floated = Finding(
        "die-floated", Severity.STOP, "43 stands 187 µm off its place and is tipped 1.2°.",
        "Its die floated while the stone was soft; 42 is splinted to it.",
        "Do not cast metal on it: cut the die out, reset it in the verification index and relute, or take a new pick-up.",
        Source(SourceKind.MEASURED, "cast check"), about="43",
    )  # fmt: skip
    base = planned_dossier()
    fields: dict[str, object] = {
        "casts": (make_cast(),),
        "headline": "Stop: 43 has moved. Cut its die out and reset it in the index before any metal is cast.",
        "headline_severity": Severity.STOP,
        "hollow": Hollow("187 ± 10 µm", "43 off its place; 50 µm allowed"),
        "job": (
            JobStep("pick-up", "in order", Severity.NOTE, NOW - timedelta(days=2)),
            JobStep("dies", "one die refused", Severity.CAUTION, NOW - timedelta(days=2)),
            JobStep("pour", "in time", Severity.NOTE, NOW - timedelta(days=2)),
            JobStep("cast", "one die moved", Severity.STOP, NOW),
            *NOT_YET,
        ),
        "findings": (floated, *base.findings),
        **changes,
    }
    return replace(base, **fields)  # type: ignore[arg-type]
