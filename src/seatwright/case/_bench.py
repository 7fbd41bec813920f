"""The bench: people, equipment and stock, shared by cases (``bench.toml``).

Bounds of numbers keep out slips of the unit and what would overflow: judgement, wider than any real bench.
"""

from datetime import time
from typing import Literal

from pydantic import Field

from seatwright.case._terms import ImpressionMaterial, Skill, Stone
from seatwright.case._units import Document, Label, Note

__all__ = ["BENCH_SCHEMA_VERSION", "Bench", "Break", "Equipment", "ImpressionStock", "Person", "StoneStock"]

BENCH_SCHEMA_VERSION = 1
"""Version of the bench file; older ones are upgraded, newer ones refused."""


class Person(Document):
    """Somebody who works on the day, by role; no names."""

    id: Label
    role: Note
    skills: tuple[Skill, ...]


class Equipment(Document):
    """A thing that one task at a time can use."""

    id: Label
    kind: Literal["vacuum_mixer", "vibrator", "curing_light", "electric_waxer", "humid_box", "balance"]
    resolution_g: float | None = Field(default=None, ge=0.001, le=100)
    """Smallest step of a balance."""


class StoneStock(Document):
    """Gypsum on the shelf, with the maker's figures."""

    stone: Stone
    water_powder: float = Field(gt=0.1, le=0.6)
    sachet_g: float | None = Field(default=None, ge=1, le=5000)
    setting_expansion_percent: float | None = Field(default=None, ge=0, le=1)
    working_time_min: float | None = Field(default=None, ge=0.1, le=120)
    lot: Note = ""


class ImpressionStock(Document):
    """Impression material on the shelf, with the maker's figures."""

    material: ImpressionMaterial
    pour_within_min: float | None = Field(default=None, ge=1, le=20_160)
    disinfect_min: float | None = Field(default=None, ge=0, le=1440)


class Break(Document):
    """A daily time without hands, on the clock of the bench."""

    start: time
    end: time
    person: str | None = None
    """Whose break it is; everybody's when absent."""


class Bench(Document):
    """People, equipment and stock."""

    schema_version: int = Field(alias="schema", ge=1)
    person: tuple[Person, ...]
    equipment: tuple[Equipment, ...] = ()
    stone: tuple[StoneStock, ...] = ()
    impression_material: tuple[ImpressionStock, ...] = ()
    water_resolution_ml: float = Field(default=1.0, ge=0.01, le=100)
    """Smallest step that is read on the measuring cylinder."""
    breaks: tuple[Break, ...] = Field(default=(), alias="break")
    time_zone: str = "UTC"
    """Zone of the bench's clock, by its name in the IANA database, such as ``Europe/Berlin``."""
