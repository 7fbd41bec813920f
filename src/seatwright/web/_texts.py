"""The one catalogue of what the pages say: loaded once, a table for each template; layout names keys alone."""

import json
import tomllib
from functools import lru_cache
from importlib.resources import files
from types import SimpleNamespace

__all__ = ["catalogue", "script_texts", "texts"]


@lru_cache(maxsize=1)
def catalogue() -> dict[str, dict[str, str]]:
    """Return every text by table and key, as ``texts.toml`` has it."""
    return tomllib.loads(files("seatwright.web").joinpath("texts.toml").read_text(encoding="utf-8"))


@lru_cache(maxsize=1)
def texts() -> SimpleNamespace:
    """Return the catalogue as templates name it: ``say.bench_now.left``; a key that is not there is an error."""
    return SimpleNamespace(**{table: SimpleNamespace(**keys) for table, keys in catalogue().items()})


@lru_cache(maxsize=1)
def script_texts() -> str:
    """Return what the browser says by itself, as JSON."""
    return json.dumps(catalogue()["scripts"], ensure_ascii=False)
