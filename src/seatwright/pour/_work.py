"""Minutes of work still needed with these hands, and whether they fit; what change would make them fit.

Owns the tasks of an impression (die cards and the pour's own), their precedence, batches, and remedies. Knows no
dimensional cost.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from seatwright.case import (
    Bench,
    Case,
    Duration,
    Equipment,
    Impression,
    ImpressionMaterial,
    ImpressionState,
    Person,
    Skill,
    StepCard,
)
from seatwright.pour._cards import AFTER_POUR, is_done, list_own_cards
from seatwright.pour._result import Feasibility, Mix, Remedy
from seatwright.pour._rows import Counts, find_ladders
from seatwright.pour._schedule import Task, WorkTime, schedule_work

__all__ = ["Job", "Question", "Work", "build_job", "find_remedies", "judge_fit", "list_tasks", "measure_work"]

_BATCH_FROM = 3  # common practice: units in a batch from which it costs less
_BATCH_FACTOR = 0.6  # common practice: share of the single times that a batch takes
_MOST_ASKED = 3  # judgement: more hands than this only get in each other's way
_PIN = Duration(0.5, 1.0, 2.0)  # common practice
_AT_BENCH = ("weigh", "mix")


@dataclass(frozen=True, slots=True)
class Job:
    """All cards of one impression up to the pour, done ones marked, durations with the batch's saving."""

    impression: str
    cards: tuple[StepCard, ...]
    done: tuple[bool, ...]


@dataclass(frozen=True, slots=True)
class Work:
    """Minutes still needed, with what the people cannot do."""

    time: WorkTime
    missing: tuple[Skill, ...]
    """Skills that nobody at the bench has; the minutes then count one more person who has them all."""


def build_job(
    case: Case,
    impression: Impression,
    bench: Bench,
    *,
    mixes: Sequence[Mix],
    die_cards: Sequence[StepCard],
    state: ImpressionState | None,
    in_hydrocolloid: bool | None = None,
) -> Job:
    """Return the work of one impression before its first stone is in, in the order of work.

    A unit whose die cards bring their own drying is not dried twice.
    """
    own = list_own_cards(case, impression, bench, mixes, in_hydrocolloid=in_hydrocolloid)
    dried_with_die = {card.tooth for card in die_cards if card.id == "flash-and-dry"}
    own = tuple(c for c in own if c.id not in AFTER_POUR and not (c.id == "dry-crown" and c.tooth in dried_with_die))
    split = next(i for i, card in enumerate(own) if card.id == "box")
    cards = (*own[:split], *_with_batches(die_cards), *own[split:])
    return Job(impression.id, cards, tuple(is_done(card, state) for card in cards))


def _with_batches(cards: Sequence[StepCard]) -> list[StepCard]:
    """Return the cards with batched times: counted over all units planned, so that finishing one saves nothing less."""
    teeth: dict[str, set[int]] = {}
    for card in cards:
        if card.batch:
            teeth.setdefault(card.batch, set()).add(card.tooth)
    return [
        replace(card, duration=card.duration.scaled(_BATCH_FACTOR))
        if len(teeth.get(card.batch, ())) >= _BATCH_FROM
        else card
        for card in cards
    ]


def list_tasks(job: Job) -> list[Task]:
    """Return the tasks still to do, with precedence.

    Rinse, disinfect, count; then each unit's chain (dry, then its die); then box; weigh at any time; mix; pour.
    """
    tasks: list[Task] = []
    opening: list[int] = []
    chains: dict[int, int] = {}
    middle: list[int] = []
    latest: dict[str, int] = {}
    for card, done in zip(job.cards, job.done, strict=True):
        if done:
            continue
        index = len(tasks)
        if card.id in ("rinse", "disinfect", "count-crowns"):
            needs = tuple(opening[-1:])
            opening.append(index)
        elif card.id == "box":
            needs = tuple(chains.values()) or tuple(opening[-1:])
            middle = [index]
        elif card.id == "weigh":
            needs = ()
        elif card.id == "mix":
            needs = (*(middle or tuple(chains.values()) or tuple(opening[-1:])), *_of(latest, "weigh"))
        elif card.id == "pour":
            needs = _of(latest, "mix") or tuple(middle) or tuple(chains.values()) or tuple(opening[-1:])
        else:
            needs = (chains[card.tooth],) if card.tooth in chains else tuple(opening[-1:])
            chains[card.tooth] = index
        latest[card.id] = index
        tray = "" if card.id in _AT_BENCH else job.impression
        tasks.append(Task(card.duration, card.skill, card.attended, card.equipment, needs, tray))
    return tasks


def _of(latest: Mapping[str, int], step: str) -> tuple[int, ...]:
    return (latest[step],) if step in latest else ()


def measure_work(jobs: Sequence[Job], bench: Bench, extra: Sequence[Person] = ()) -> Work:
    """Return the minutes that these jobs need together with the people of the bench and `extra` ones."""
    tasks: list[Task] = []
    for job in jobs:
        shift = len(tasks)
        tasks.extend(replace(t, needs=tuple(n + shift for n in t.needs)) for t in list_tasks(job))
    people = [*bench.person, *extra]
    kinds: list[str] = [e.kind for e in bench.equipment]
    equipment = {kind: kinds.count(kind) for kind in kinds}
    able = {skill for person in people for skill in person.skills}
    missing = tuple(sorted({t.skill for t in tasks} - able))
    if missing:
        people.append(_all_round("missing"))
    time = schedule_work(tasks, people, equipment) if tasks else None
    nothing = Duration(0.0, 0.0, 0.0)
    return Work(time or WorkTime(nothing, nothing, 0, ()), missing)


def _all_round(name: str) -> Person:
    return Person(id=f"extra-{name}", role="extra hands", skills=tuple(Skill))


def judge_fit(minutes: Duration, left_min: float) -> Feasibility:
    """Return whether work fits the minutes left: at the longest pace, at the typical one, or not.

    Examples
    --------
    >>> judge_fit(Duration(5.0, 9.0, 14.0), 10.0)
    <Feasibility.TIGHT: 'tight'>
    """
    if minutes.high_min <= left_min:
        return Feasibility.FITS
    return Feasibility.TIGHT if minutes.typical_min <= left_min else Feasibility.DOES_NOT_FIT


@dataclass(frozen=True, slots=True)
class Question:
    """What remedies are sought for: one impression's job, the minutes left, and what may still be changed."""

    job: Job
    left_min: float
    die_cards: tuple[StepCard, ...]
    build: Callable[[Sequence[StepCard], bool | None], Job]
    """Makes the job anew from other die cards, or as if in hydrocolloid (True) or elastomer (False)."""
    may_change_material: bool
    may_be_stone: frozenset[int]
    """Units whose die could be a pin and stone as far as time goes; pontics and screwed crowns are none."""
    shares_hands: bool = False


def find_remedies(question: Question, bench: Bench) -> tuple[Remedy, ...]:
    """Return changes tried in turn, whether they suffice or not: hands, fewer dies, an elastomer, opposing later.

    A change that is no longer possible (another material once it is out of the mouth) is not offered.
    """
    remedies = [_more_hands(question, bench), *_second_light(question, bench), *_fewer_dies(question, bench)]
    if question.may_change_material:
        window = find_ladders(ImpressionMaterial.ADDITION_SILICONE, Counts.AGE)[0].within_min
        minutes = measure_work([question.build(question.die_cards, False)], bench).time.minutes
        what = "Addition silicone or polyether instead"
        remedies.append(Remedy(what, minutes, window, judge_fit(minutes, window)))
    if question.shares_hands:
        minutes = measure_work([question.job], bench).time.minutes
        what = "This impression first, the other one's work later"
        remedies.append(Remedy(what, minutes, question.left_min, judge_fit(minutes, question.left_min)))
    return tuple(remedies)


def _more_hands(question: Question, bench: Bench) -> Remedy:
    """Return the fewest hands that suffice, or the most that were tried."""
    have, n = len(bench.person), len(bench.person) + 1
    while True:
        extra = [_all_round(str(i)) for i in range(n - have)]
        minutes = measure_work([question.job], bench, extra).time.minutes
        fit = judge_fit(minutes, question.left_min)
        if fit is not Feasibility.DOES_NOT_FIT:
            return Remedy(f"{n} pairs of hands", minutes, question.left_min, fit)
        if n >= _MOST_ASKED:
            return Remedy(f"Even {n} pairs of hands", minutes, question.left_min, fit)
        n += 1


def _second_light(question: Question, bench: Bench) -> list[Remedy]:
    if not any("curing_light" in card.equipment for card in question.die_cards):
        return []
    lights = [e for e in bench.equipment if e.kind == "curing_light"]
    more = bench.model_copy(update={"equipment": (*bench.equipment, *_one_more_light(len(lights)))})
    minutes = measure_work([question.job], more).time.minutes
    what = "One more curing light"
    return [Remedy(what, minutes, question.left_min, judge_fit(minutes, question.left_min))]


def _one_more_light(n_have: int) -> list[Equipment]:
    """Return lights to add; with none listed one counts as there, so two are added."""
    return [Equipment(id=f"extra-light-{i}", kind="curing_light") for i in range(1 if n_have else 2)]


def _fewer_dies(question: Question, bench: Bench) -> list[Remedy]:
    """Return the most dies that would fit at once, the longest ones left out first; the fewest when none fits."""
    times: dict[int, float] = {}
    for card in question.die_cards:
        if card.tooth not in question.may_be_stone or card.id == "flash-and-dry":
            continue
        times[card.tooth] = times.get(card.tooth, 0.0) + card.duration.typical_min
    longest = sorted((tooth for tooth, m in times.items() if m > _PIN.typical_min), key=lambda t: -times[t])
    remedy: list[Remedy] = []
    for n_left_out in range(1, len(longest) + 1):
        out = longest[:n_left_out]
        cards = [c for c in question.die_cards if c.tooth not in out or c.id == "flash-and-dry"]
        cards += [_pin(question.job, tooth) for tooth in out]
        minutes = measure_work([question.build(cards, None)], bench).time.minutes
        fit = judge_fit(minutes, question.left_min)
        kept = len(longest) - n_left_out
        what = f"Resin dies in {kept} of {len(longest)} units, stone and pin in the others where the die table allows"
        remedy = [Remedy(what, minutes, question.left_min, fit)]
        if fit is not Feasibility.DOES_NOT_FIT:
            break
    return remedy


def _pin(job: Job, tooth: int) -> StepCard:
    return StepCard("stone-pin", "Pin", "Set a pin for a stone die.", job.impression, tooth, Skill.DIES, _PIN)
