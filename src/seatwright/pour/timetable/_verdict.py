"""The one sentence that a timetable begins with, wherever it is shown."""

from datetime import datetime, tzinfo

from seatwright.pour.timetable._risks import RISK
from seatwright.pour.timetable._timetable import Late, Timetable

__all__ = ["verdict_of"]


def verdict_of(timetable: Timetable, *, zone: tzinfo) -> str:
    """Return the verdict in words: whether everything fits, what does not, when it is done, how sure that is.

    Parameters
    ----------
    timetable : Timetable
    zone : tzinfo
        Of the bench's clock.
    """
    if not timetable.tasks:
        return "Nothing is left to do."
    end = _shown(max(row.end for row in timetable.tasks), timetable, zone)
    proven = "proven: nothing better exists" if timetable.proven else "not proven best within the time given"
    names = ", ".join(f"{_name(late, timetable)} by {late.by_min:.0f} min" for late in timetable.late)
    if _is_evening_before(timetable):
        if timetable.late:
            return f"Not feasible with these hands and materials: past its window {names}. Done at {end} ({proven})."
        risky = [miss.what for miss in timetable.misses if miss.kind == "window" and miss.chance > RISK]
        several = _has_several_cases(timetable)
        thin = ", ".join(name.replace("/", " ") if several else name.split("/")[-1] for name in risky)
        head = f"Feasible, but thin for {thin}" if thin else "Feasible with these hands"
        return f"{head}: every pour in its window. Done at {end} ({proven})."
    if not timetable.late:
        return f"Every pour in its window. Done at {end} ({proven})."
    return f"Does not fit: past its window {names}. Done at {end} ({proven})."


def _is_evening_before(timetable: Timetable) -> bool:
    """Tell whether nothing has been taken yet: every impression that is poured is also taken in this plan."""
    taken = {(r.case, r.impression) for r in timetable.tasks if r.steps == ("take",) and not r.is_fixed}
    poured = {(r.case, r.impression) for r in timetable.tasks if "pour" in r.steps}
    return bool(poured) and poured <= taken


def _name(late: Late, timetable: Timetable) -> str:
    """Return the impression, with its case where there are several."""
    return f"{late.case} {late.impression}" if _has_several_cases(timetable) else late.impression


def _has_several_cases(timetable: Timetable) -> bool:
    return len({row.case for row in timetable.tasks}) > 1


def _shown(moment: datetime, timetable: Timetable, zone: tzinfo) -> str:
    local = moment.astimezone(zone)
    same_day = local.date() == timetable.now.astimezone(zone).date()
    return f"{local:%H:%M}" if same_day else f"{local:%d %b %H:%M}"
