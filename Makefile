# The doors for people: `make demo`, `make test`. Everything lands in .venv and nowhere else.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed

.PHONY: help demo test lint types contracts tools skill season bench pictures torture soak release clean

help: ## what can be made
	@awk -F ':.*## ' '/^[a-z]+:.*## / {printf "  make %-10s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

$(STAMP): pyproject.toml .ci/constraints.txt
	@echo "Setting up a virtual environment in $(VENV) (a minute or two the first time) ..."
	@$(PYTHON) -m venv $(VENV) || { echo "Python's venv module is missing: on Debian, apt-get install python3-venv"; exit 1; }
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --constraint .ci/constraints.txt --editable ".[dev]"
	@touch $@

demo: $(STAMP) ## a simulated garden from soil to phone page, on this machine alone
	@$(BIN)/cooldepth demo

tools: ## the broker and the browser that the tests use (Debian packages)
	@.ci/tools

test: $(STAMP) tools lint types contracts ## everything that must hold, the real broker and browser included
	@echo "Tests ..."
	@$(BIN)/python -m pytest

lint: $(STAMP) ## format and lint
	@echo "Format and lint ..."
	@$(BIN)/ruff format --check --quiet . && $(BIN)/ruff check --quiet .

types: $(STAMP) ## strict types
	@echo "Types ..."
	@$(BIN)/mypy --no-error-summary

contracts: $(STAMP) ## who may import whom
	@echo "Import contracts ..."
	@$(BIN)/lint-imports --no-logo --config pyproject.toml > .contracts.txt || { cat .contracts.txt; exit 1; }
	@rm -f .contracts.txt

skill: $(STAMP) ## how good the forecasts are on measured soil (needs the data sets, see DEVELOPERS.md; some minutes)
	@$(BIN)/python -m pytest -q -m long
	@$(BIN)/python -m tests.bench.skill

season: $(STAMP) ## a whole invented season through the real collector: every call, when and why, and what the grower did (an hour)
	@$(BIN)/python -m tests.season.replay

bench: $(STAMP) tools ## how fast readings are taken in, a season is read, pages open; a season of soil beside SciPy (a quarter of an hour)
	@$(BIN)/python -m tests.bench.intake_speed
	@$(BIN)/python -m tests.bench.store_speed build/season
	@$(BIN)/python -m tests.bench.page_speed build/season
	@$(BIN)/python -m tests.bench.page_load build/season
	@$(BIN)/python -m tests.bench.scale
	@OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 $(BIN)/python -m tests.bench.soil_speed

pictures: $(STAMP) tools ## every page of the simulated garden at both widths, by day and by night, into pictures/ (two minutes)
	@$(BIN)/python -m tests.bench.pictures

torture: $(STAMP) tools ## kill -9 a hundred times under load, full and read-only disks, wires pulled, a million mutated payloads (half an hour)
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --only-binary :all: atheris 2> /dev/null || echo "atheris does not install here: payloads guided by it are left out"
	@$(BIN)/python -m tests.crash.torture

soak: $(STAMP) tools ## two hours at the load of a farm with faults thrown in: nothing lost, memory and open files flat
	@$(BIN)/python -m tests.crash.soak

release: $(STAMP) ## the wheel, built, installed alone in a clean environment, and the simulated garden run from it (three minutes)
	@$(BIN)/python -m tests.release

clean: ## remove what was made
	@rm -rf $(VENV) build dist *.egg-info .pytest_cache .mypy_cache .ruff_cache .hypothesis .import_linter_cache
