# One environment, kept in .venv; both targets make it from nothing.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: demo test lint clean

$(VENV)/.installed: pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install --quiet --disable-pip-version-check -e ".[dev]"
	touch $@

demo: $(VENV)/.installed
	$(BIN)/droptrail check sample_drawings/tourer_700c.dxf --sheet sample_drawings/tourer_700c.csv

test: $(VENV)/.installed
	$(BIN)/python -m pytest -n 2

lint: $(VENV)/.installed
	$(BIN)/ruff check .
	$(BIN)/mypy

clean:
	rm -rf $(VENV) build *.egg-info
