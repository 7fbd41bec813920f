# Two commands: `make demo` runs the main job on the invented case, `make test` passes every check.
# Behind them: python3 -m venv .venv; pip install --require-hashes -r requirements.lock; pip install -e .

PYTHON ?= python3
OUT ?= out
# Tests that need no browser and no terminal run in this many processes; the rest one after the other, as they watch the clock.
WORKERS ?= 2
WATCHING := tests/end_to_end/web tests/end_to_end/test_live_terminal.py
VENV := .venv
BIN := $(VENV)/bin
export NUMBA_CACHE_DIR ?= $(CURDIR)/.cache/numba
export PIP_DISABLE_PIP_VERSION_CHECK := 1

.PHONY: demo test test-all check setup format docs golden benchmarks lock clean

demo: setup
	$(BIN)/seatwright demo --out $(OUT)

test: check
	$(BIN)/python -m pytest -n $(WORKERS) --dist loadfile $(addprefix --ignore=,$(WATCHING))
	$(BIN)/python -m pytest $(WATCHING)

test-all: check
	SEATWRIGHT_LONG=1 $(BIN)/python -m pytest -n $(WORKERS) --dist loadfile $(addprefix --ignore=,$(WATCHING))
	SEATWRIGHT_LONG=1 $(BIN)/python -m pytest $(WATCHING)

check: setup
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports --cache-dir .cache/import-linter
	$(BIN)/python docs/reference/make_all.py --check

setup: $(VENV)/.ready

$(VENV)/.ready: requirements.lock pyproject.toml hatch_build.py frontend/package-lock.json frontend/build.mjs $(wildcard frontend/src/*.ts)
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --require-hashes -r requirements.lock
	$(BIN)/python -m pip install --quiet --no-deps --no-build-isolation --editable .
	@echo "Compiling the numerical kernels, once (about a minute) ..."
	$(BIN)/python -m seatwright.wiring
	@touch $@

format: setup
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

docs: setup
	$(BIN)/python docs/reference/make_all.py

golden: setup
	SEATWRIGHT_WRITE_GOLDEN=1 $(BIN)/python -m pytest tests/golden

benchmarks: setup
	@for bench in benchmarks/bench_*.py; do echo "== $$bench"; $(BIN)/python $$bench || exit 1; done
	@echo "== benchmarks/study_caliper.py 600"; $(BIN)/python benchmarks/study_caliper.py 600

lock: setup
	$(BIN)/uv pip compile --quiet --universal --generate-hashes --no-annotate --no-header --all-extras pyproject.toml -o requirements.lock

clean:
	rm -rf $(VENV) .cache .mypy_cache .ruff_cache $(OUT)
