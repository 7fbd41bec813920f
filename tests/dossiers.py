"""An invented dossier, written out by hand, for tests of drawings and papers: nothing in it is computed by a step.

The scenario: a mandible, Kennedy II with two modifications, on the day of the pick-up (`planned_dossier`) and after the
cast was checked (`checked_dossier`).
"""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from seatwright.case import (
    Attachment,
    Bar,
    Bench,
    Case,
    CaseState,
    Duration,
    Impression,
    Join,
    Margin,
    Margins,
    Scan,
    Skill,
    StepCard,
    Stone,
    Teeth,
    Unit,
)
from seatwright.cast import CastResult, UnitMovement
from seatwright.dies import BarStops, DieResult, Effect, RuleHit, Technique, TechniqueVerdict, UnitDie
from seatwright.findings import COMMON_PRACTICE, Finding, Severity, Source, SourceKind, Verdict
from seatwright.mesh import Surface
from seatwright.pour import Band, CostStep, Feasibility, ImpressionClock, ImpressionPhase, Mix, PourResult, SpanCost
from seatwright.quantities import Measured
from seatwright.workflows.ports import InputFile
from seatwright.workflows.results import AxisPair, CastStep, Dossier, Hollow, JobStep, Support

NOW = datetime(2026, 3, 10, 10, 26, tzinfo=UTC)

HOSTILE = "<script>alert('x')</script> & \"quotes\" #eval(\"1+1\") $x$ \\ ]] {{ 7*7 }} {% raw %} \u202eevil\u202c \u0007 µ ± 歯"


def _margins(facial: str = "metal_collar", lingual_depth: float = 0.0, thickness: float = 0.4) -> Margins:
    other = "metal_collar" if facial == "ceramic_butt" else facial
    edge = Margin(kind=other, thickness_mm=thickness)
    return Margins(
        facial=Margin(kind=facial, thickness_mm=0.8 if facial == "ceramic_butt" else thickness),
        mesial=edge,
        lingual=Margin(kind=other, thickness_mm=thickness, subgingival_mm=lingual_depth),
        distal=edge,
    )


def make_case(**changes: object) -> Case:
    """Return the demo's case document."""
    noble = {"body": "noble_alloy", "neck_mm": 5.0}
    veneered = {**noble, "veneer": "feldspathic"}
    fields: dict[str, object] = {
        "schema": 1,
        "code": "DEMO-01",
        "title": "Invented case: mandible with bar, slide and conus",
        "arch": "mandible",
        "teeth": Teeth(
            present=(33, 35, 37, 42, 43, 44),
            implants=(45,),
            missing_fixed=(34,),
            missing_partial=(36, 32, 31, 41, 46, 47),
            missing_not_replaced=(38, 48),
        ),
        "unit": (
            Unit(tooth=37, kind="primary_conus", margin=_margins("metal_knife_edge", thickness=0.2), wall_taper_deg=6, **noble),
            Unit(tooth=35, kind="crown", margin=_margins(), core="post_and_core", **noble),
            Unit(tooth=34, kind="pontic", body="noble_alloy", veneer="feldspathic"),
            Unit(tooth=33, kind="crown", margin=_margins("ceramic_butt", 1.5), **veneered),
            Unit(tooth=42, kind="crown", margin=_margins("ceramic_butt"), **{**veneered, "neck_mm": 3.6}),
            Unit(tooth=43, kind="crown", margin=_margins("ceramic_butt"), **veneered),
            Unit(tooth=44, kind="crown", margin=_margins("zirconia", thickness=0.5), body="zirconia", neck_mm=5.2, intaglio="primed"),
            Unit(tooth=45, kind="implant_screwed", body="noble_alloy"),
        ),
        "join": (Join(id="B1", kind="bridge", units=(33, 34, 35)), Join(id="S1", kind="splint", units=(42, 43))),
        "attachment": (
            Attachment(id="A1", kind="slide", tooth=35, surface="distal", motion="rigid", male_joined="cast_on", length_mm=5, clearance_um=20, clearance_is="total"),
            Attachment(id="A2", kind="conus", tooth=37, motion="rigid", male_joined="cast_on"),
            Attachment(id="A3", kind="stud", tooth=45, surface="distal", motion="resilient", male_joined="picked_up_in_mouth"),
            Attachment(id="A4", kind="bar_clip", bar="BAR", motion="resilient", male_joined="luted_on_cast"),
        ),
        "bar": (Bar(id="BAR", from_tooth=33, to_tooth=42, length_mm=17, ridge_gap_mm=2),),
        "impression": (
            Impression(
                id="PU", role="pick_up", arch="mandible", material="polyether", tray="rigid_custom", adhesive=True,
                route="overall", lifts=(33, 34, 35, 37, 42, 43, 44, 45), pour={"stone": "type_4", "base_stone": "type_3"},
            ),
            Impression(
                id="OPP", role="opposing", arch="maxilla", material="alginate", tray="rigid_stock", adhesive=True,
                pour={"stone": "type_3"},
            ),
        ),
        "tolerance": {"unit_shift_um": 50, "reason": "set by the dentist for this case; no published limit exists"},
    }  # fmt: skip
    return Case(**{**fields, **changes})


def make_bench() -> Bench:
    """Return an invented bench."""
    return Bench(
        schema=1,
        person=(
            {"id": "T1", "role": "technician", "skills": tuple(Skill)},
            {"id": "T2", "role": "trainee", "skills": ("mix",)},
        ),
    )


def _card(identifier: str, title: str, do: str, tooth: int, minutes: tuple[float, float, float], **more: object) -> StepCard:
    skill = more.pop("skill", Skill.DIES)
    return StepCard(identifier, title, do, "PU", tooth, skill, Duration(*minutes), **more)  # type: ignore[arg-type]


def _gel_cards(tooth: int) -> tuple[StepCard, ...]:
    return (
        _card("gel-line", "Line and cure", "Coat the inside thinly with gel; cure from the open end.", tooth, (1, 1.5, 2), equipment=("curing_light",), resources=("light-cured resin gel",), cautions=("Wear the orange shield: blue light harms the eye.",)),
        _card("gel-fill", "Fill, set the bent pin, cure", "Fill to 1 mm below the edge, set the bent pin upright, cure, probe the bottom.", tooth, (1.5, 2, 4), equipment=("curing_light",), resources=("retention pin, 1 mm, bent",)),
        _card("gel-wipe", "Wipe", "Wipe off the sticky layer with alcohol.", tooth, (0.2, 0.3, 0.5), cautions=("Nitrile gloves: uncured resin sensitizes.",)),
    )  # fmt: skip


def _verdicts(chosen: Technique, *vetoed: Technique, reason: str) -> tuple[TechniqueVerdict, ...]:
    first = TechniqueVerdict(chosen, Effect.CHOSEN, (RuleHit("row", Effect.CHOSEN, reason, COMMON_PRACTICE),))
    rest = tuple(
        TechniqueVerdict(t, Effect.VETOED, (RuleHit(f"veto-{t}", Effect.VETOED, "A hard die that touches the ceramic edge breaks it when it is pulled.", COMMON_PRACTICE),))
        for t in vetoed
    )  # fmt: skip
    return (first, *rest)


def make_dies() -> DieResult:
    """Return a die plan as the decision table would give it."""
    engraved = Finding(
        "returned-die-number", Severity.STOP, "The epoxy die sent for 43 is engraved 33 and stands 0.4 mm short.",
        "A die of the mirror tooth enters, but not home: gap 180 µm against 50 allowed.",
        "Send it back; mask 43 and use gel.", COMMON_PRACTICE, about="43",
    )  # fmt: skip
    deep = Finding("margin-deep", Severity.CAUTION, "The lingual edge lies 1.5 mm below the gum.", "Flash inside locks the die.", "Cut flash inside first.", about="33")
    mask = (_card("mask-wax", "Mask the ceramic", "Flow wax over the facial edge and 2 mm past its line angle; keep the metal stop free.", 0, (1, 2, 4), resources=("masking wax",), cautions=("Open flame: tie back hair, clear solvents.",)),)  # fmt: skip

    def masked(tooth: int) -> tuple[StepCard, ...]:
        return tuple(replace(c, tooth=tooth) for c in mask) + _gel_cards(tooth)

    units = (
        UnitDie(45, "PU", Technique.ANALOG, "A screw-retained crown takes its matching analog.", "Never fill the screw channel with gel.", _verdicts(Technique.ANALOG, Technique.GEL, reason="Implant crown."), (_card("analog", "Screw on the analog", "Seat the matching analog, check the seam with a probe, tighten to 10 N cm.", 45, (1, 2, 4)),)),
        UnitDie(44, "PU", Technique.GEL, "Zirconia 0.5 mm thick bears a resin die once a separator lies between.", "Never without separator: the inside is primed.", _verdicts(Technique.GEL, Technique.PATTERN_RESIN, reason="Zirconia edge of 0.4 mm or more."), (_card("separator", "Separator", "Brush separator over the whole inside; let it dry.", 44, (0.3, 0.5, 1)), *_gel_cards(44))),
        UnitDie(43, "PU", Technique.MASKED, "The facial edge is bare ceramic and the returned die is not valid.", "Never let resin touch the facial ceramic edge.", _verdicts(Technique.MASKED, Technique.GEL, Technique.PATTERN_RESIN, Technique.RETURNED_EPOXY, reason="Ceramic butt, no valid epoxy die."), masked(43), (engraved,)),
        UnitDie(42, "PU", Technique.MASKED, "Facial edge bare ceramic, neck 3.6 mm.", "Never stone: a post this thin snaps.", _verdicts(Technique.MASKED, Technique.STONE, Technique.GEL, reason="Thin neck and ceramic butt."), masked(42)),
        UnitDie(33, "PU", Technique.MASKED, "Facial edge bare ceramic, no epoxy die came back.", "Never pry: pull straight along the axis.", _verdicts(Technique.MASKED, Technique.GEL, reason="Ceramic butt."), masked(33), (deep,)),
        UnitDie(34, "PU", Technique.NONE, "A pontic needs no die.", "Never block the ridge side: its form is kept.", (), ()),
        UnitDie(35, "PU", Technique.GEL, "Metal collars bear a rigid die.", "Never before the post and core is cemented.", _verdicts(Technique.GEL, reason="Metal collar of 0.3 mm or more."), _gel_cards(35)),
        UnitDie(37, "PU", Technique.GEL, "Gold knife edge: gel kept 0.5 to 1 mm short.", "Never lever: a burnished edge bends.", _verdicts(Technique.GEL, Technique.PATTERN_RESIN, reason="Gold knife edge."), _gel_cards(37)),
    )  # fmt: skip
    stops = BarStops("BAR", "PU", 2, "Never lock the stop under the bar.", (_card("bar-stops", "Resin stops", "Set two lubricated stops under the bar; keep the gap to the ridge.", 0, (1, 2, 4)),))
    return DieResult(units, (stops,), (engraved, deep))


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
        "It loses water from the first minute; 10 are supported.", "Retake it while the patient is here.", about="OPP",
    )  # fmt: skip
    mix = Mix("first pour", Stone.TYPE_4, Measured(62.0, 6.0, "ml"), 0.20, 150.0, 30.0, 1, 27.9, SpanCost("37 to 44", 49.0, Measured(44.0, 12.0, "µm")), source)
    base = Mix("base", Stone.TYPE_3, Measured(110.0, 15.0, "ml"), 0.28, 230.0, 64.0, 2, 42.8, None, source)
    cards = (
        StepCard("weigh", "Weigh powder and water", "Water first, then powder; let it soak.", "PU", 0, Skill.MIX, Duration(1, 2, 3), equipment=("balance",), cautions=("Mask on: gypsum dust.",)),
        StepCard("mix", "Mix under vacuum", "By hand until wet, then 30 s under vacuum.", "PU", 0, Skill.MIX, Duration(0.5, 0.7, 1), equipment=("vacuum_mixer",)),
        StepCard("pour", "Brush round the pins, then vibrate in", "From one end, lowest amplitude; no pin may touch the tray.", "PU", 0, Skill.POUR, Duration(2, 3, 5), equipment=("vibrator",), cautions=("Never turn soft stone over.",)),
    )  # fmt: skip
    pick_up = ImpressionClock(
        "PU", ImpressionPhase.WAITING, out, 14.0, out + timedelta(minutes=30), out + timedelta(hours=24), 1440.0, 1426.0,
        Duration(41, 58, 92), 2, Feasibility.FITS, Band.WITHIN,
        (CostStep(0, 1440, Band.WITHIN, 0.0, 0.05, (), source, "maker’s window"), CostStep(1440, None, Band.BEYOND, None, None, (), source, "outside the maker’s window")),
        (mix, base), cards, out + timedelta(hours=2), None, (),
    )  # fmt: skip
    opposing = ImpressionClock(
        "OPP", ImpressionPhase.WAITING, out, 14.0, out, out + timedelta(minutes=10), 10.0, -4.0, Duration(4, 6, 9), 1,
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


def make_cast() -> CastStep:
    """Return a cast check in which 43 stands high and 42 cannot be judged."""
    surface, deviation, known = make_bumpy_surface()
    scan = {"arch": "mandible", "length_unit": "mm", "repeatability_um": 4}
    units = tuple(
        UnitMovement(str(t), np.array(s), np.array(r), np.full(3, u), np.full(3, 0.05), verdict, np.array(at), Measured(float(np.linalg.norm(s)) * 1000, u * 1000, "µm"), Measured(float(np.linalg.norm(r)), 0.05, "deg"))
        for t, (s, r, u, verdict, at) in MOVEMENTS.items()
    )
    result = CastResult(np.eye(4), True, ("37", "35", "44", "45"), 4.2, units, 50.0)
    return CastStep(
        Scan(id="REF", role="reference", of="verified_cast", file="scans/reference.ply", **scan),
        Scan(id="CAST", role="poured", of="poured_cast", file="scans/poured.ply", impression="PU", **scan),
        result, surface, deviation, known,
    )  # fmt: skip


NOT_YET = tuple(JobStep(n, "not yet") for n in ("survey", "framework", "remount", "seat"))


def planned_dossier(**changes: object) -> Dossier:
    """Return the dossier of the pick-up day: two impressions wait."""
    dies, pour = make_dies(), make_pour()
    fields: dict[str, object] = {
        "case": make_case(),
        "bench": make_bench(),
        "state": CaseState(n_events=9),
        "now": NOW,
        "inputs": (InputFile("case.toml", "ab" * 32, 5120), InputFile("log.jsonl", "cd" * 32, 2048)),
        "support": Support("Kennedy II, modification 2", "46 and 47 missing at the end of the arch; 36 and 32 to 41 bounded."),
        "axes": (AxisPair("A1", "A3", Measured(0.2, 0.05, "deg"), Measured(17.0, 4.0, "µm"), 5.0),),
        "dies": dies,
        "pour": pour,
        "casts": (),
        "headline": "Retake the opposing alginate now: it dried for 14 minutes. The pick-up can wait.",
        "headline_severity": Severity.WARNING,
        "hollow": Hollow("4 min late", "opposing alginate, 10 min in open air supported"),
        "job": (
            JobStep("pick-up", "one retake", Severity.WARNING, NOW - timedelta(minutes=14)),
            JobStep("dies", "planned, one die refused", Severity.WARNING),
            JobStep("pour", "fits", Severity.NOTE, NOW + timedelta(hours=23, minutes=46)),
            JobStep("cast", "not yet"),
            *NOT_YET,
        ),
        "findings": (*dies.findings[:1], *pour.findings, *dies.findings[1:]),
    }  # fmt: skip
    return Dossier(**{**fields, **changes})  # type: ignore[arg-type]


def checked_dossier(**changes: object) -> Dossier:
    """Return the dossier after the cast check: a die floated."""
    floated = Finding(
        "die-floated", Severity.STOP, "43 stands 187 µm off its place and is tipped 1.2°.",
        "Its die floated while the stone was soft; 42 is splinted to it.",
        "Do not cast metal on it: cut the die out, reset it in the verification index and relute, or take a new pick-up.",
        Source(SourceKind.MEASURED, "cast check REF against CAST"), about="43",
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
