"""What to change: every choice still open is tried on the same random trials, and the best one again with others."""

from dataclasses import replace
from hashlib import sha256

import numpy as np

from seatwright.case import Case
from seatwright.forecast._choices import Choices
from seatwright.forecast._options import Option, list_options
from seatwright.forecast._result import Change
from seatwright.forecast._seating import Setup, build_setup, range_over_states
from seatwright.forecast._trials import draw_errors
from seatwright.forecast._update import MeasuredUnit
from seatwright.quantities import FloatArray

__all__ = ["search_changes"]


def search_changes(
    case: Case,
    choices: Choices,
    setup: Setup,
    *,
    seed: int,
    measured: tuple[MeasuredUnit, ...] = (),
    n_trials: int,
) -> tuple[Change, ...]:
    """Return every open change, alone and on top of the best one, by gain, largest first.

    The best single change that helps for certain also gets its range over what is poorly known; only changes that help
    by themselves are tried on top of it.
    """
    tried: dict[bytes, FloatArray] = {}

    def seats(there: Case, chosen: Choices, *, checked: bool = True) -> FloatArray:
        made = build_setup(there, chosen, measured=measured if checked else (), pool_of=setup)
        key = _fingerprint(made)
        if key not in tried:
            errors = draw_errors(made.chain, seed, n_trials)
            tried[key] = (made.program.solve(errors, sign_only=True).slack_mm >= 0).astype(float)
        return tried[key]

    def weigh(option: Option) -> Change:
        return _weigh(option, seats(*option.apply(case, choices), checked=option.keeps_check), planned)

    planned = seats(case, choices)
    options = list_options(case, choices)
    found = [weigh(option) for option in options]
    if not found:
        return ()
    first = int(np.argmax([c.gain for c in found]))
    best = options[first]
    # What moves the same thing as the best one replaces it and is no second step.
    seconds = [o for o, c in zip(options, found, strict=True) if c.helps and o.moves != best.moves]
    if found[first].helps:
        there, chosen = best.apply(case, choices)
        checked = measured if best.keeps_check else ()
        made = build_setup(there, chosen, measured=checked, pool_of=setup)
        low, high = range_over_states(there, chosen, made, seed=seed, n_trials=n_trials, measured=checked)
        p = found[first].p_seats
        found[first] = replace(found[first], low=min(low, p), high=max(high, p))
    found += [weigh(_join(best, option)) for option in seconds]
    return tuple(sorted(found, key=lambda c: (-round(c.gain, 3), c.extra_visits, c.extra_min)))


def _fingerprint(made: Setup) -> bytes:
    """Return what decides the trials: two setups that share it give the same answers."""
    chain, program = made.chain, made.program
    laws = repr([(c.name, c.law) for c in chain.causes]).encode()
    joint = b"" if chain.correlation is None else chain.correlation.tobytes()
    return sha256(laws + joint + chain.loading.tobytes() + program.rows.tobytes() + program.gaps_mm.tobytes()).digest()


def _weigh(option: Option, there: FloatArray, planned: FloatArray) -> Change:
    gain = there - planned
    u_gain = float(gain.std() / np.sqrt(gain.size))
    return Change(
        option.id, option.what, float(there.mean()), float(gain.mean()), u_gain, option.extra_min, option.extra_visits,
        option.why,
    )  # fmt: skip


def _join(first: Option, second: Option) -> Option:
    return Option(
        f"{first.id}+{second.id}",
        f"{first.what}; and {second.what[0].lower()}{second.what[1:]}",
        f"{first.moves}+{second.moves}",
        first.extra_min + second.extra_min,
        first.extra_visits + second.extra_visits,
        f"{first.why} {second.why}",
        lambda case, choices: second.apply(*first.apply(case, choices)),
        keeps_check=first.keeps_check and second.keeps_check,
    )
