# Two commands do all the set-up on a machine with Python 3.11 or newer: `make demo`, `make test`.
PYTHON ?= python3
VENV ?= .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready

# Modules of tests that show whether the lowest versions do.
LOWEST := stats seasons bands freeze heat windows usable tally readers store calendar versions

.PHONY: demo test test-lowest lint audit lab bench clean

demo: $(READY)
	$(BIN)/climwin demo

test: $(READY)
	$(BIN)/python -m pytest --cov --cov-report=term:skip-covered

test-lowest:
	$(PYTHON) -m venv .venv-lowest
	.venv-lowest/bin/python -m pip install --quiet --upgrade pip
	.venv-lowest/bin/python -m pip install --quiet --constraint constraints-lowest.txt \
		--editable '.[notebook,many]' --group test
	.venv-lowest/bin/python -m pytest --quiet $(LOWEST:%=tests/test_%.py)

lint: $(READY)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/bandit --quiet --recursive --configfile pyproject.toml climwin

# Fails where a version could not be looked up, so that silence is never taken for safety.
audit: $(READY)
	$(BIN)/bandit --recursive --configfile pyproject.toml climwin
	$(BIN)/pip-audit --strict --no-deps --disable-pip --requirement constraints.txt

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
