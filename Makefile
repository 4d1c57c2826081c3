# Everything a fresh machine needs is python3 (3.11 or later, with venv) and make.
PYTHON ?= python3
BIN := .venv/bin
OUT ?= demo/out
JOBS ?= 3

# Our matrices are small: threads inside one multiplication only get in each other's way.
export OPENBLAS_NUM_THREADS ?= 1

.DEFAULT_GOAL := help
.PHONY: help demo serve test lint check bench screenshots lock clean mutants

help:
	@echo "make demo    set up, run the main job on the invented demo trial, leave report.pdf behind"
	@echo "make serve   the app at the pit, on the demo's notebook"
	@echo "make test    set up and run every test"
	@echo "make lint    formatter, linter, strict types, direction of the arrows"
	@echo "make check   lint and test, as CI does"
	@echo "make mutants change the code in small wrong ways, see that tests notice (ONLY=live.alerts)"
	@echo "make bench   the speed and memory table"
	@echo "make screenshots   pictures of every place of the app into docs/app"
	@echo "make lock    pin the dependencies anew (requirements*.txt)"
	@echo "make clean   remove the environment and what the demo wrote"
	@echo
	@echo 'Then fairsmoke stands in $(BIN); for this terminal: export PATH="$(CURDIR)/$(BIN):$$PATH"'

$(BIN)/python:
	$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "Fairsmoke needs Python 3.11 or later; set PYTHON=/path/to/it")'
	$(PYTHON) -m venv .venv

# The project itself goes in editable and without its own resolution: the lock files decide.
.venv/run-ready: requirements.txt pyproject.toml | $(BIN)/python
	@echo "Setting up the environment (once)."
	$(BIN)/python -m pip install -qq --disable-pip-version-check --require-hashes -r requirements.txt
	$(BIN)/python -m pip install -qq --disable-pip-version-check --no-deps --no-build-isolation -e .
	@echo "Compiling the simulator's kernels (once)."
	$(BIN)/python -m fairsmoke.cooking.warm
	@echo "Gathering the script that draws charts (once)."
	$(BIN)/python -m fairsmoke.app.charts_script
	touch $@

.venv/dev-ready: requirements-dev.txt .venv/run-ready
	$(BIN)/python -m pip install -qq --disable-pip-version-check --require-hashes -r requirements-dev.txt
	touch $@

# General solvers to set ours beside; only the benchmark wants them.
.venv/bench-ready: requirements-bench.txt .venv/dev-ready
	$(BIN)/python -m pip install -qq --disable-pip-version-check --require-hashes -r requirements-bench.txt
	touch $@

demo: .venv/run-ready
	$(BIN)/fairsmoke demo --out $(OUT)

serve: .venv/run-ready
	test -e $(OUT)/village-hall.fairsmoke || $(BIN)/fairsmoke demo --out $(OUT)
	$(BIN)/fairsmoke serve $(OUT)/village-hall.fairsmoke

# Kernels are compiled once before, not by each worker; a third worker works while others wait.
test: .venv/dev-ready
	scripts/system-tools.sh
	$(BIN)/python -m fairsmoke.cooking.warm
	$(BIN)/python -m pytest -n $(JOBS)

mutants: .venv/dev-ready
	nice $(BIN)/python -m scripts.mutants --only "$(ONLY)"

lint: .venv/dev-ready
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports

check: lint test

bench: .venv/bench-ready
	$(BIN)/python -m benchmarks

screenshots: .venv/dev-ready
	scripts/system-tools.sh
	$(BIN)/python -m scripts.screenshots

lock: .venv/dev-ready
	$(BIN)/uv pip compile pyproject.toml --group build --universal --fork-strategy fewest --generate-hashes --no-emit-index-url --no-header --quiet --upgrade -o requirements.txt
	$(BIN)/uv pip compile pyproject.toml --group dev --universal --fork-strategy fewest --generate-hashes --no-emit-index-url --no-header --quiet --upgrade -c requirements.txt -o requirements-dev.txt
	$(BIN)/uv pip compile pyproject.toml --group bench --universal --fork-strategy fewest --generate-hashes --no-emit-index-url --no-header --quiet --upgrade -c requirements-dev.txt -o requirements-bench.txt

clean:
	rm -rf .venv $(OUT)
