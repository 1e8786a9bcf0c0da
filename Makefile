# Everything on a fresh machine: `make demo` and `make test`.
PYTHON ?= python3
VENV ?= .venv
BIN = $(VENV)/bin
PIP = $(BIN)/python -m pip --disable-pip-version-check

.PHONY: demo test lint format bench faults clean

demo: $(VENV)/installed
	$(BIN)/claywit assess models/oskervane.yaml evidence_examples/04-marrable.yaml

test: $(VENV)/tests
	$(BIN)/python -m pytest -n auto -m "not benchmark"

lint: $(VENV)/lint
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports

format: $(VENV)/lint
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

bench: $(VENV)/tests
	$(BIN)/python -m pytest -m benchmark -s tests/benchmarks

faults: $(VENV)/tests
	CLAYWIT_FAULTS=long $(BIN)/python -m pytest -s tests/faults

$(VENV)/installed: pyproject.toml constraints.txt
	$(PYTHON) -m venv $(VENV)
	$(PIP) install --quiet --constraint constraints.txt --editable .
	@touch $@

$(VENV)/tests: $(VENV)/installed
	$(PIP) install --quiet --constraint constraints.txt --editable '.[test]'
	@touch $@

$(VENV)/lint: $(VENV)/tests
	$(PIP) install --quiet --constraint constraints.txt --editable '.[test,lint]'
	@touch $@

clean:
	rm -rf $(VENV) .mypy_cache .ruff_cache .pytest_cache .import_linter_cache
