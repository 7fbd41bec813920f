"""What the forecast answers: will it seat, how far off each place will be, what decides it, what would help."""

from dataclasses import dataclass
from enum import StrEnum

from seatwright.findings import Finding

__all__ = [
    "CauseInput",
    "Change",
    "Contribution",
    "Correlation",
    "FeatureForecast",
    "ForecastResult",
    "LeftOut",
    "LinkUsed",
    "RankedLink",
    "Room",
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
        Share of each link, Cov(its part, misfit) / Var(misfit), largest first; they add up to one. A share may be
        negative once a cast check has tied links together: that link then makes up for another.
    shapley : tuple of Contribution
        The same never negative, for a ranked picture; equal to `contributions` while links are independent.
    dof : float or None
        Effective degrees of freedom (Welch-Satterthwaite, link by link); None where every spread is taken as known, or
        where links are correlated and the formula does not hold.
    propagation95_um : tuple of float
        Interval by the law of propagation.
    propagation_agrees : bool
        Both intervals agree to one digit of u (JCGM 101, clause 8).
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
    shapley: tuple[Contribution, ...]
    dof: float | None
    propagation95_um: tuple[float, float]
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

    Attributes
    ----------
    name, link, unit : str
    law : mapping
        Name of the law and its parameters, in `unit`.
    dof : float or None
        Degrees of freedom of its spread; None where it is taken as known.
    evidence : tuple of str
        Ids of the records behind the law.
    moves : mapping
        Per feature and unit of the input: shift (mm) and turn (rad) of the male against its female, six numbers.
    """

    name: str
    link: str
    law: dict[str, float | str]
    unit: str
    dof: float | None
    evidence: tuple[str, ...]
    moves: dict[str, tuple[float, ...]]


@dataclass(frozen=True, slots=True)
class Correlation:
    """Correlation of two inputs that are jointly normal; pairs that are not named are independent."""

    one: str
    other: str
    value: float


@dataclass(frozen=True, slots=True)
class Room:
    """A figure that gives room to errors instead of adding any: clearances, cement space, mobility, allowed gaps."""

    evidence: str
    quantity: str
    value: float
    unit: str
    how_good: str


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A step that is not in the chain, and why."""

    step: str
    why: str
    evidence: tuple[str, ...] = ()


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
    share, u_share : float
        Shapley effect on the slack, with its standard error: the links' shares add up to one, none is negative but for
        noise, also where links are correlated.
    first, total, u_total : float
        Sobol's indices of the links in `indices_of` taken together: what knowing them alone would settle, and what
        stays open when all others are known.
    indices_of : tuple of str
        This link alone, or all links that a cast check tied together.
    """

    link: str
    title: str
    words: str
    share: float
    u_share: float
    first: float
    total: float
    u_total: float
    indices_of: tuple[str, ...]


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
    low: float | None = None
    high: float | None = None
    """Range of `p_seats` over what is poorly known; computed for the best single change only."""

    @property
    def helps(self) -> bool:
        """Whether it raises the chance beyond the noise of the trials."""
        return self.gain > 2 * self.u_gain

    @property
    def cost(self) -> str:
        """What it costs, in words.

        Examples
        --------
        >>> Change("a", "A", 0.9, 0.7, 0.01, 20.0, 0, "why").cost
        '20 min more, no visit more'
        """
        if not self.extra_min and not self.extra_visits:
            return "no more time"
        minutes = f"{self.extra_min:.0f} min more" if self.extra_min else "no minute more"
        visits = {0: "no visit more", 1: "1 visit more"}.get(self.extra_visits, f"{self.extra_visits} visits more")
        return f"{minutes}, {visits}"


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
    correlations: tuple[Correlation, ...]
    room: tuple[Room, ...]
    left_out: tuple[LeftOut, ...]
    measured: tuple[int, ...]
    """Teeth whose place on the cast was measured; the chain is conditioned on it."""
    before: SeatingChance | None
    """The chance before the cast was measured; None without a cast check."""
    before_u_um: dict[str, float]
    """Standard uncertainty of each place ('id: what') before the cast was measured; empty without a cast check."""
    findings: tuple[Finding, ...]

    @property
    def best_change(self) -> Change | None:
        """The single change that helps most, if one does beyond the noise of the trials."""
        return next((c for c in self.changes if c.low is not None), None)

    @property
    def trust(self) -> str:
        """Which way of propagation to trust, in one sentence (JCGM 101:2008, clause 8)."""
        apart = [f"{f.id}, {f.what}" for f in self.features if not f.propagation_agrees]
        if not apart:
            return "Law of propagation and Monte Carlo agree at every place to one digit; either can be trusted."
        return f"Monte Carlo is the one to trust; the law of propagation differs at {'; '.join(apart)}."
