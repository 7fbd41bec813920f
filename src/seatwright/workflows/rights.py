"""Who may do what: the roles, what may be asked of the page, and the one table that says who may."""

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["RIGHTS", "Action", "Right", "Role", "may"]


class Role(StrEnum):
    """What somebody is in the practice."""

    DENTIST = "dentist"
    TECHNICIAN = "technician"
    READER = "reader"


class Action(StrEnum):
    """What may be asked of the page."""

    OPEN = "open"
    OWN = "own"
    READ = "read"
    COMPUTE = "compute"
    LOG = "log"
    ENTER = "enter"
    KEEP = "keep"


@dataclass(frozen=True, slots=True)
class Right:
    """One row of the table: what an action is, who may, and why not the others."""

    action: Action
    what: str
    roles: frozenset[Role]
    why: str = ""
    signed_in: bool = True
    """Whether somebody has to be signed in at all."""


_ALL = frozenset(Role)
_BENCH = frozenset({Role.DENTIST, Role.TECHNICIAN})
RIGHTS: tuple[Right, ...] = (
    Right(Action.OPEN, "see the sign-in page and what draws it", _ALL, "it tells nothing of any case", False),
    Right(Action.OWN, "sign out, or set how the page is shown to oneself", _ALL, "it concerns nobody else"),
    Right(Action.READ, "look at clocks, cases, scans or the record", _ALL, "nothing is changed by it"),
    Right(Action.COMPUTE, "begin or stop checks", _BENCH, "it takes the machine's time from those at work"),
    Right(Action.LOG, "start or finish a step, or say what happened", _BENCH, "it is done by hands at the bench"),
    Right(Action.ENTER, "enter a plan as a draft, or bring scans in", _BENCH, "a draft binds nobody yet"),
    Right(Action.KEEP, "keep a plan as the next version of its case", frozenset({Role.DENTIST}),
          "the plan says what is made for the patient: a licensed clinician decides"),
)  # fmt: skip
"""Every action, once. Who keeps a plan is judgement, and local rules prevail."""


def may(role: Role | None, action: Action) -> bool:
    """Whether somebody of this role (None: nobody is signed in) may do this.

    Examples
    --------
    >>> may(Role.TECHNICIAN, Action.LOG), may(Role.READER, Action.LOG), may(None, Action.READ)
    (True, False, False)
    """
    right = next(right for right in RIGHTS if right.action is action)
    return role in right.roles if role is not None else not right.signed_in
