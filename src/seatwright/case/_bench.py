"""The bench: people, equipment and stock, shared by cases (``bench.toml``)."""

from datetime import time
from typing import Literal

from pydantic import Field

from seatwright.case._terms import ImpressionMaterial, Skill, Stone
from seatwright.case._units import Document

__all__ = ["BENCH_SCHEMA_VERSION", "Bench", "Break", "Equipment", "ImpressionStock", "Person", "StoneStock"]

BENCH_SCHEMA_VERSION = 1
"""Version of the bench file; older ones are upgraded, newer ones refused."""


class Person(Document):
    """Somebody who works on the day, by role; no names."""

    id: str = Field(min_length=1)
    role: str
    skills: tuple[Skill, ...]


class Equipment(Document):
    """A thing that one task at a time can use."""

    id: str = Field(min_length=1)
    kind: Literal["vacuum_mixer", "vibrator", "curing_light", "electric_waxer", "humid_box", "balance"]
    resolution_g: float | None = Field(default=None, gt=0)
    """Smallest step of a balance."""


class StoneStock(Document):
    """Gypsum on the shelf, with the maker's figures."""

    stone: Stone
    water_powder: float = Field(gt=0.1, le=0.6)
    sachet_g: float | None = Field(default=None, gt=0)
    setting_expansion_percent: float | None = Field(default=None, ge=0, le=1)
    working_time_min: float | None = Field(default=None, gt=0)
    lot: str = ""


class ImpressionStock(Document):
    """Impression material on the shelf, with the maker's figures."""

    material: ImpressionMaterial
    pour_within_min: float | None = Field(default=None, gt=0)
    disinfect_min: float | None = Field(default=None, ge=0)


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
    water_resolution_ml: float = Field(default=1.0, gt=0)
    """Smallest step that is read on the measuring cylinder."""
    breaks: tuple[Break, ...] = Field(default=(), alias="break")
    time_zone: str = "UTC"
    """Zone of the bench's clock, by its name in the IANA database, such as ``Europe/Berlin``."""
