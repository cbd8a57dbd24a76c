# One environment, kept in .venv; both targets make it from nothing.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
# The set of versions that was tested; others with make test TESTED=
TESTED ?= $(CURDIR)/constraints.txt

.PHONY: demo test test-lowest coverage lint docs joint-study mutation fuzz wheel-test clean

$(VENV)/.installed: pyproject.toml
	$(PYTHON) -m venv $(VENV)
	PIP_CONSTRAINT=$(TESTED) $(BIN)/pip install --quiet --disable-pip-version-check -e ".[dev]"
	touch $@

demo: $(VENV)/.installed
	$(BIN)/droptrail check sample_drawings/tourer_700c.dxf --sheet sample_drawings/tourer_700c.csv

test: $(VENV)/.installed
	$(BIN)/python -m pytest -n 2

# The same tests with the lowest versions that pyproject.toml allows of every library droptrail itself needs. The page in
# a browser, the documents' own digits and what is marked slow are left to `make test`: many of a kind say nothing more of
# a library's version.
LOWEST := $(VENV)/lowest
test-lowest: $(VENV)/.installed
	$(PYTHON) -m venv $(LOWEST)
	$(BIN)/python tests/lowest_versions.py > $(LOWEST)/constraints.txt
	PIP_CONSTRAINT=$(CURDIR)/$(LOWEST)/constraints.txt $(LOWEST)/bin/pip install --quiet --disable-pip-version-check -e ".[dev]"
	$(LOWEST)/bin/python -m pytest -n 2 -m "not slow" --ignore tests/browser --ignore tests/test_docs.py

# Lines of model/ that no test runs.
coverage: $(VENV)/.installed
	$(BIN)/python -m pytest -n 2 tests/model tests/validation tests/test_api.py --cov=droptrail.model --cov-report=term-missing:skip-covered

lint: $(VENV)/.installed
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	mkdir -p $(VENV)/under_its_name && ln -sfn ../.. $(VENV)/under_its_name/droptrail
	$(BIN)/mypy

# Generated blocks in the documents, and the validation page.
docs: $(VENV)/.installed
	$(BIN)/python -m droptrail.validation.page
	$(BIN)/python tests/helpers_docs.py

# The joint study: finished joints are kept in .joint-study, so that a second run goes on where the first one stopped.
# Some thousand joints and sixty crowns, three quarters of an hour with two processes; more with make joint-study STUDY="--bare 1024",
# single ones with STUDY="--only frame-bare-ring-7 frame-lug-open-12": they change their own rows of the data file alone.
PROCESSES ?= 2
STUDY ?=
joint-study: $(VENV)/.installed
	OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 $(BIN)/python -m droptrail.validation.joints.study --processes $(PROCESSES) $(STUDY)
	OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 $(BIN)/python -m droptrail.validation.joints.crown_study --processes $(PROCESSES)
	$(BIN)/python -m droptrail.validation.joints.results
	$(BIN)/python -m droptrail.validation.joints.pictures

# Small faults put into model/, to see that a test notices: make mutation MODULES="model/mechanics/beam.py model/frame/mesh.py"
mutation: $(VENV)/.installed
	$(BIN)/pip install --quiet --disable-pip-version-check "cosmic-ray>=8.3,<9"
	$(BIN)/python tests/mutation.py $(MODULES)

# Every door a stranger's file comes through, fuzzed for SECONDS each: make fuzz SECONDS=60 TARGETS="dxf sheet"
SECONDS ?= 60
fuzz: $(VENV)/.installed
	-$(BIN)/pip install --quiet --disable-pip-version-check -e ".[fuzz]"
	$(BIN)/python tests/fuzz/run.py --seconds $(SECONDS) $(TARGETS)

# The wheel in a clean environment, away from the checkout: make wheel-test PYTHON=python3.13
wheel-test:
	$(PYTHON) tests/wheel_test.py

clean:
	rm -rf $(VENV) build *.egg-info
