# The two commands most people need are `make demo` and `make test`.
# Both set up a private environment in .venv the first time, and need no network after that.

PYTHON ?= python3
BIN := .venv/bin
READY := .venv/.ready
OUT := out/demo

.PHONY: demo app test quick torture bench lint types imports tests setup browser clean lock

setup: $(READY)

$(READY): pyproject.toml requirements-dev.lock
	@test -x $(BIN)/python || $(PYTHON) -m venv .venv || { \
	  echo "Python could not make a private environment. On Debian: apt-get install python3-venv"; exit 1; }
	$(BIN)/python -m pip install --quiet --constraint requirements-dev.lock --editable '.[dev]'
	@touch $(READY)

demo: $(READY)
	@$(BIN)/scribeline demo --out $(OUT)
	@echo "      or in one: make app"

app: demo
	$(BIN)/scribeline serve --data $(OUT)/shop --job $(OUT)/marram.toml

test: lint types imports tests

lint: $(READY)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: $(READY)
	$(BIN)/mypy

imports: $(READY)
	$(BIN)/lint-imports

tests: $(READY) browser
	$(BIN)/pytest --numprocesses auto --dist worksteal

# While one works at it: what is quick of everything but the app, in less than a minute. It stands for no whole run.
quick: $(READY)
	$(BIN)/ruff check .
	$(BIN)/pytest --numprocesses 2 --dist worksteal -q @tests/quick.txt

# The app's tests drive a real browser: Debian's Chromium, put in place where there is none.
browser:
	@command -v chromium >/dev/null || { apt-get update --quiet --quiet && apt-get install --yes --quiet --quiet chromium >/dev/null; } || { \
	  echo "The app's tests need Chromium. As root, on Debian: apt-get install chromium"; exit 1; }

# What takes long: 2,000 sequences of edits, steps done and holes measured (the tests have eight), the app's server killed
# 2,000 times under writes (four in the tests), 2,000 strangers before its door for two minutes, from one address and
# from ten, over http and https, 50,000 inputs from seeds (2,000 quick ones in the tests; stopped, it goes on from where it was), and every case that
# others stand for from day to day.
torture: $(READY) browser
	SCRIBELINE_SEQUENCES=2000 $(BIN)/pytest tests/property/test_as_built.py -q -s -n 0
	SCRIBELINE_KILLS=2000 $(BIN)/pytest tests/end_to_end/test_app_killed.py -q -s -n 0
	SCRIBELINE_STRANGERS=2000 $(BIN)/pytest tests/end_to_end/test_strangers.py -q -s -n 0
	SCRIBELINE_FUZZED=50000 $(BIN)/pytest tests/property/test_fuzzed.py -q -s -n 0
	SCRIBELINE_TORTURE=1 $(BIN)/pytest --numprocesses auto --dist worksteal -q

bench: $(READY)
	$(BIN)/pytest bench -p no:cacheprovider --benchmark-only --benchmark-columns=min,median,rounds --benchmark-sort=name --benchmark-disable-gc -q -s

lock: $(READY)
	$(BIN)/python -m pip freeze --exclude-editable > requirements-dev.lock

clean:
	rm -rf .venv out .mypy_cache .ruff_cache .pytest_cache .import_linter_cache
