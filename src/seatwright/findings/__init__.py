"""What every result is made of: findings with a source, verdicts by a stated rule."""

from seatwright.findings._finding import (
    COMMON_PRACTICE,
    JUDGEMENT,
    Finding,
    Severity,
    Source,
    SourceKind,
    sort_findings,
    worst_severity,
)
from seatwright.findings._verdict import (
    DecisionLimits,
    Verdict,
    judge_shift,
    judge_shift_length,
    judge_upper_limit,
    limits_for_shift,
    limits_for_shift_length,
)

__all__ = [
    "COMMON_PRACTICE",
    "JUDGEMENT",
    "DecisionLimits",
    "Finding",
    "Severity",
    "Source",
    "SourceKind",
    "Verdict",
    "judge_shift",
    "judge_shift_length",
    "judge_upper_limit",
    "limits_for_shift",
    "limits_for_shift_length",
    "sort_findings",
    "worst_severity",
]
