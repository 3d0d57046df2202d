# Two commands do all the set-up on a machine with Python 3.11 or newer: `make demo`, `make test`.
# While working: `make quick`.
PYTHON ?= python3
VENV ?= .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready

# Slow modules: left out of the lowest and the newest versions, as are slow tests and `LONGER`. They start
# browsers, kernels and servers, or write whole pages.
SLOW := test_benchmarks test_faults test_fuzz test_house batch/test_run cli/test_history cli/test_kernel \
	cli/test_lab cli/test_notebooks notebooks/test_notebooks page/test_browser \
	page/test_notebook page/test_pdf page/test_write \
	stations/test_history widgets/test_browser
FAST := $(filter-out $(SLOW:%=tests/%.py),$(wildcard tests/test_*.py tests/*/test_*.py))
# `make quick` runs the tests of the folders that changed since the last commit, these excepted, and those
# that hold the folders together.
LONGER := stations/test_cache stations/test_gazetteer page/test_club page/test_once report/test_caveats \
	trials/test_analysis
TOGETHER := $(wildcard tests/core/test_*.py tests/crops/test_*.py) tests/test_face.py tests/test_house.py \
	tests/test_language.py tests/planning/test_plan.py tests/report/test_decision.py tests/cli/test_main.py
CHANGED = $(shell git diff --name-only --diff-filter=d HEAD -- '*.py' '*.pyi'; \
	git ls-files --others --exclude-standard -- '*.py' '*.pyi')
FOLDERS = $(sort $(foreach file,$(filter climwin/% tests/%,$(CHANGED)),$(word 2,$(subst /, ,$(file)))))
OF_FOLDERS = $(foreach folder,$(FOLDERS),$(filter tests/$(folder)/%,$(filter-out $(LONGER:%=tests/%.py),$(FAST))))
# The folders whose tests `make shuffled` runs in another order, and the order's number.
SHUFFLED ?= core crops climate io trials stations
SEED ?= 1
# Two processes, a file's tests in one of them: what a file prepares is prepared once. In the order of their
# names many short files come last; by their number of tests, a few long ones would, for one process alone.
TWO := --numprocesses 2 --dist loadfile --no-loadscope-reorder
JS := climwin/widgets/js

# Tests start hundreds of processes. Each would compile climwin anew where Python is told to keep nothing.
test cover quick shuffled test-lowest test-newest: export PYTHONDONTWRITEBYTECODE :=

.PHONY: demo test cover quick shuffled docs install-lowest install-newest test-lowest test-newest lint audit lab bench mutate mutate-words js clean

demo: $(READY)
	$(BIN)/climwin demo

test: $(READY)
	$(BIN)/python -m pytest $(TWO)

# The same, and which lines no test runs. Counting them takes half as long again.
cover: $(READY)
	$(BIN)/python -m pytest $(TWO) --cov --cov-report=term:skip-covered

# The files changed since the last commit are linted, and their examples run; the tests draw fewer examples
# than in `make test`.
quick: $(READY)
	$(if $(CHANGED),$(BIN)/ruff check $(CHANGED))
	$(if $(CHANGED),$(BIN)/ruff format --check $(CHANGED))
	$(BIN)/python -m pytest --quiet $(TWO) -m 'not slow' --hypothesis-profile quick \
		$(sort $(TOGETHER) $(OF_FOLDERS) $(filter climwin/%.py,$(CHANGED)))

# `make shuffled SEED=7 SHUFFLED="io trials"`: files and the tests in them in an order drawn by the seed.
shuffled: $(READY)
	$(BIN)/python -m pytest --quiet -m 'not slow' --hypothesis-profile quick --hypothesis-seed $(SEED) \
		--random-order --random-order-seed $(SEED) $(SHUFFLED:%=tests/%)

# With BRIEF=yes only what holds the folders together, and the examples of all functions: of a Python that
# lies between two that are tested.
OF_LEG = $(if $(BRIEF),$(TOGETHER) climwin,$(filter-out tests/agreement/% $(LONGER:%=tests/%.py),$(FAST)))
LEG = .venv-$*
# Of 13,000 modules few are imported, which is when they are compiled.
install-lowest install-newest: install-%:
	$(PYTHON) -m venv --clear $(LEG)
	$(LEG)/bin/python -m pip install --quiet --upgrade pip
	$(LEG)/bin/python -m pip install --quiet --no-compile --constraint constraints-$*.txt \
		--editable '.[notebook,many]' --group test

test-lowest test-newest: test-%: $(if $(INSTALLED),,install-%)
	$(LEG)/bin/python -m pytest --quiet $(TWO) -m 'not slow and not simulated' --hypothesis-profile quick \
		$(OF_LEG)

lint: $(READY)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/bandit --quiet --recursive --configfile pyproject.toml climwin
	if [ -d $(JS)/node_modules ]; then npm --prefix $(JS) run --silent lint; \
		else echo 'The front end was not linted: `make js` brings the tools, with npm.'; fi

# The front end's bundles, from its sources. They are committed: only who changes it needs node.
js: $(JS)/node_modules
	npm --prefix $(JS) run --silent lint
	npm --prefix $(JS) run --silent test
	npm --prefix $(JS) run --silent build

$(JS)/node_modules: $(JS)/package.json $(JS)/package-lock.json
	cd $(JS) && npm ci --silent
	touch $@

# The reference, into build/docs: open build/docs/reference/index.html.
docs: $(READY)
	$(BIN)/python -m pip install --quiet --constraint constraints.txt --group docs
	rm -rf notebooks/reference/generated
	$(BIN)/sphinx-build --quiet --fail-on-warning --keep-going -c notebooks/reference -d build/doctrees notebooks build/docs

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

# Slow: hours for all, a while for a fifth of the changes (ENDING=37) or for a few MODULES.
mutate: $(READY)
	$(BIN)/python -m pip install --quiet --constraint constraints.txt --group mutation
	$(BIN)/python tests/mutation/run.py --ending "$(or $(ENDING),0-9)" $(MODULES)

# Changes of what is said, such as "cold" for "warm": SAMPLE of each module, or EACH of each folder, drawn by SEED.
# Which tests run which lines is kept for the next time, in build/.
mutate-words: $(READY)
	mkdir -p build
	$(BIN)/python tests/mutation/words.py --ran build/lines_run.json --seed $(SEED) \
		$(if $(EACH),--each-folder $(EACH),--sample $(or $(SAMPLE),10)) $(MODULES)

clean:
	rm -rf build notebooks/reference/generated notebooks/reference/api.rst $(VENV) .venv-* .pytest_cache .mypy_cache .ruff_cache .hypothesis $(JS)/node_modules
