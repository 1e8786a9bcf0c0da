# Everything on a fresh machine: `make demo` and `make test`.
PYTHON ?= python3
VENV ?= .venv
OLDEST ?= .venv-oldest
BIN = $(VENV)/bin
PIP = $(BIN)/python -m pip --disable-pip-version-check

# Tools that look at what is shipped have a venv of their own, so that they are no part of it.
SUPPLY ?= .venv-supply
SUPPLY_TOOLS = cyclonedx-bom==7.5.0 pip-audit==2.10.1

.PHONY: demo test lint format bench faults oldest sbom audit clean

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

# One thread for everybody's arithmetic: a second one that waits counts as processor time too.
bench: $(VENV)/tests
	OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1 MKL_NUM_THREADS=1 \
	  $(BIN)/python -m pytest -m benchmark -s tests/benchmarks

faults: $(VENV)/tests
	-$(PIP) install --quiet atheris==3.0.0  # for fuzzing by coverage; without it that part is left out
	CLAYWIT_FAULTS=long $(BIN)/python -m pytest -s tests/faults

# What a plain install brings in, as CycloneDX JSON held against its schema. claywit itself is named
# by pyproject.toml: an installed one would carry the path of this machine.
sbom: $(SUPPLY)/installed
	rm -rf build/plain
	$(PYTHON) -m venv --without-pip build/plain
	$(SUPPLY)/bin/python -m pip --python build/plain/bin/python install --quiet --constraint constraints.txt .
	$(SUPPLY)/bin/python -m pip --python build/plain/bin/python uninstall --quiet --yes claywit
	$(SUPPLY)/bin/cyclonedx-py environment --pyproject pyproject.toml --output-reproducible \
	  --validate --output-file build/claywit.cdx.json build/plain/bin/python

# Known weaknesses of the pinned versions. Without --strict a service that does not answer passes.
# ADVISORIES=FILE holds them against a file in the OSV format instead, where no service is reached.
audit: $(SUPPLY)/installed
	$(if $(ADVISORIES),$(SUPPLY)/bin/python tests/advisories.py $(ADVISORIES) constraints.txt,$(SERVICE))

SERVICE = $(SUPPLY)/bin/pip-audit --strict --vulnerability-service pypi --no-deps --disable-pip \
  --requirement constraints.txt

$(SUPPLY)/installed: Makefile
	$(PYTHON) -m venv $(SUPPLY)
	$(SUPPLY)/bin/python -m pip --disable-pip-version-check install --quiet $(SUPPLY_TOOLS)
	@touch $@

# The stored numbers on the oldest dependencies that are allowed; PYTHONS may name more Pythons that
# have claywit's dependencies, with a colon between them.
oldest: $(VENV)/tests $(OLDEST)/installed
	CLAYWIT_PYTHONS="$(OLDEST)/bin/python$(if $(PYTHONS),:$(PYTHONS))" \
	  $(BIN)/python -m pytest tests/faults/test_numbers_versions.py

$(OLDEST)/installed: pyproject.toml tests/bounds.py
	$(PYTHON) -m venv $(OLDEST)
	$(PYTHON) tests/bounds.py > $(OLDEST)/lowest.txt
	$(OLDEST)/bin/python -m pip --disable-pip-version-check install --quiet --requirement $(OLDEST)/lowest.txt
	@touch $@

# What is installed for the lint serves the tests, and that the demo: each is installed at once, and
# compiled at once, for hundreds of processes are started from it.
INSTALL = $(PYTHON) -m venv $(VENV) && $(PIP) install --quiet --constraint constraints.txt --editable
COMPILE = $(BIN)/python -m compileall -q src

$(VENV)/installed: pyproject.toml constraints.txt
	$(INSTALL) .
	$(COMPILE)
	@touch $@

$(VENV)/tests: pyproject.toml constraints.txt
	$(INSTALL) '.[test]'
	$(COMPILE)
	@touch $(VENV)/installed $@

$(VENV)/lint: pyproject.toml constraints.txt
	$(INSTALL) '.[test,lint]'
	$(COMPILE)
	@touch $(VENV)/installed $(VENV)/tests $@

clean:
	rm -rf $(VENV) $(SUPPLY) $(OLDEST) build .mypy_cache .ruff_cache .pytest_cache .import_linter_cache
