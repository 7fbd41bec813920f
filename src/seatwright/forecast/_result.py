"""What the forecast answers: will it seat, how far off each place will be, what decides it, what would help."""

from dataclasses import dataclass
from enum import StrEnum

from seatwright.findings import Finding

__all__ = [
    "CauseInput",
    "Change",
    "Contribution",
    "FeatureForecast",
    "ForecastResult",
    "LinkUsed",
    "RankedLink",
    "SeatingChance",
    "SeatingWord",
]


class SeatingWord(StrEnum):
    """The chance in one word, as far as the evidence carries it."""

    USUALLY = "usually"
    """Two times in three or more, and the range does not reach down to one in three."""
    RARELY = "rarely"
    """One time in three or less, and the range does not reach up to two in three."""
    SOMETIMES = "sometimes"
    """In between."""
    CANNOT_TELL = "evidence cannot tell"
    """The range over what is poorly known reaches from 'rarely' to 'usually'."""


@dataclass(frozen=True, slots=True)
class Contribution:
    """Share of a link in a variance."""

    link: str
    share: float


@dataclass(frozen=True, slots=True)
class FeatureForecast:
    """Misfit expected at one place after the best rigid placement.

    Attributes
    ----------
    id, what : str
        Place, and which component: 'sideways', 'along the path' or 'distance'.
    bias_um, u_um : float
        Mean and standard uncertainty.
    interval95_um : tuple of float
        From Monte Carlo.
    p_within : float
        Chance that the misfit is within `allowed_um` (clearance and play).
    allowed_um : float
    contributions : tuple of Contribution
        Shares of the variance, largest first; they add up to one.
    propagation_agrees : bool
        The law of propagation gives the same interval to two digits of u (JCGM 101, clause 8).
    trusted : str
        Which of the two to trust: 'both' or 'monte carlo'.
    """

    id: str
    what: str
    bias_um: float
    u_um: float
    interval95_um: tuple[float, float]
    p_within: float
    allowed_um: float
    contributions: tuple[Contribution, ...]
    propagation_agrees: bool
    trusted: str


@dataclass(frozen=True, slots=True)
class SeatingChance:
    """Chance that one rigid placement satisfies every place at once.

    Attributes
    ----------
    value, u : float
        Share of trials and its standard error, with every link at its typical value.
    mc_low, mc_high : float
        Exact 95 % interval of `value` from the number of trials alone.
    low, high : float
        Nine states of knowledge in ten give a chance in here: the poorly known links moved independently over their
        ranges.
    says : SeatingWord
    binds : tuple of Contribution
        Which places decide the trials that fail (`link` holds the place), largest first.
    n_trials : int
    slack_median_um : float
        Room left at the tightest place in the middle trial; negative when it does not seat.
    """

    value: float
    u: float
    mc_low: float
    mc_high: float
    low: float
    high: float
    says: SeatingWord
    binds: tuple[Contribution, ...]
    n_trials: int
    slack_median_um: float


@dataclass(frozen=True, slots=True)
class CauseInput:
    """One random input with its law and what it moves: enough to compute everything again.

    `moves` gives, per unit of the input, the shift (mm) and turn (rad) of each male against its female, six numbers.
    """

    name: str
    link: str
    law: dict[str, float | str]
    unit: str
    moves: dict[str, tuple[float, ...]]


@dataclass(frozen=True, slots=True)
class LinkUsed:
    """A link of this case's chain."""

    id: str
    title: str
    words: str
    evidence: tuple[str, ...]
    how_good: str
    n_inputs: int


@dataclass(frozen=True, slots=True)
class RankedLink:
    """How much a link decides whether it seats.

    Attributes
    ----------
    link, title, words : str
    first : float
        First-order index of the slack: what knowing this link alone would settle.
    total : float
        Total index: what stays open when all other links are known. Not below `first` but for noise.
    u_total : float
        Standard error of `total`.
    """

    link: str
    title: str
    words: str
    first: float
    total: float
    u_total: float


@dataclass(frozen=True, slots=True)
class Change:
    """Something that could still be done differently.

    `gain` is the change of the chance against what is planned, with `u_gain` its standard error (same random numbers).
    """

    id: str
    what: str
    p_seats: float
    gain: float
    u_gain: float
    extra_min: float
    extra_visits: int
    why: str


@dataclass(frozen=True, slots=True)
class ForecastResult:
    """The whole answer."""

    seed: int
    n_trials: int
    p_seats: SeatingChance
    features: tuple[FeatureForecast, ...]
    ranked: tuple[RankedLink, ...]
    changes: tuple[Change, ...]
    links: tuple[LinkUsed, ...]
    inputs: tuple[CauseInput, ...]
    measured: tuple[int, ...]
    """Teeth whose place on the cast was measured; the chain is conditioned on it."""
    findings: tuple[Finding, ...]
