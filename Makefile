# obverse: every chore by name. `make help` lists them.

PYTHON ?= python3
VENV   ?= .venv
BIN     = $(VENV)/bin
READY   = $(VENV)/.ready
TESTED  = $(VENV)/.ready-for-tests

.DEFAULT_GOAL := help
.PHONY: help demo serve test check lint bench mutate told lock lowest newest docs pictures clean

help: ## list the chores
	@grep -E '^[a-z]+:.*##' Makefile | sed -E 's/:[^#]*## /\t/' | expand -t 10

demo: $(READY) ## open the invented teaching darkroom
	@$(BIN)/obverse demo

serve: $(READY) ## open your own darkroom
	@$(BIN)/obverse serve

# Compiled once, not in every worker and every program the tests start, also where the environment says otherwise.
test: export PYTHONDONTWRITEBYTECODE =
test: $(TESTED) ## run all tests, in the browser too
	@scripts/need-chromium
	@scripts/need-postgres
	$(BIN)/python -m pytest -n $${OBVERSE_WORKERS:-4} --dist loadfile --no-loadscope-reorder

check: lint ## only the quick checks: what lint does, house rules, units
	$(BIN)/python -m pytest -q tests/house tests/unit

lint: $(TESTED) ## floors, faces, style and types, nothing run
	$(BIN)/lint-imports
	$(BIN)/ruff check --quiet .
	$(BIN)/ruff format --check --quiet .
	$(BIN)/djlint --lint --quiet src/obverse/web/templates
	$(BIN)/oxlint --deny-warnings src/obverse/web/static
	$(BIN)/python -m mypy

bench: $(TESTED) ## run the benchmarks (ratios and learning curves; slow)
	@for file in benchmarks/bench_*.py; do echo "== $$file"; $(BIN)/python $$file || exit 1; done

mutate: $(TESTED) ## break the house on purpose; list what no test noticed (slow)
	$(BIN)/python scripts/mutate.py

told: $(TESTED) ## write what is told anew, to be read through before it is kept
	OBVERSE_WRITE_TOLD=1 $(BIN)/python -m pytest -q -n 0 tests/unit/test_told_*.py

docs: $(TESTED) ## write the generated pages anew
	$(BIN)/python scripts/write_docs.py
	$(BIN)/python tests/published/page.py

pictures: $(TESTED) ## take the pictures of the README anew (needs chromium)
	$(BIN)/python scripts/pictures.py

lock: $(TESTED) ## write requirements.lock from what is installed
	$(BIN)/python scripts/lock.py > requirements.lock

lowest: ## install the wheel with the lowest versions that are allowed, and try it
	$(PYTHON) scripts/bounds.py lowest

newest: ## install the wheel with the newest versions there are, and try it
	$(PYTHON) scripts/bounds.py newest

clean: ## remove the environment and caches
	rm -rf $(VENV) build dist .pytest_cache .hypothesis pictures-of-tests

$(READY): pyproject.toml requirements.lock
	@scripts/make-venv $(PYTHON) $(VENV) .
	@touch $@

$(TESTED): pyproject.toml requirements.lock
	@scripts/make-venv $(PYTHON) $(VENV) ".[test]"
	@touch $(READY) $@
