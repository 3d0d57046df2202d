# Two commands do all the set-up on a machine with Python 3.11 or newer: `make demo`, `make test`.
PYTHON ?= python3
VENV ?= .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready

.PHONY: demo test lint lab bench clean

demo: $(READY)
	$(BIN)/climwin demo

test: $(READY)
	$(BIN)/python -m pytest --cov --cov-report=term:skip-covered

lint: $(READY)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

lab: $(READY)
	$(BIN)/climwin lab

bench: $(READY)
	$(BIN)/python tests/benchmarks/run.py

$(READY): pyproject.toml constraints.txt
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --upgrade pip
	$(BIN)/python -m pip install --quiet --constraint constraints.txt --editable '.[notebook,many]' \
		--group test --group lint
	touch $@

clean:
	rm -rf $(VENV) .pytest_cache .mypy_cache .ruff_cache .hypothesis
