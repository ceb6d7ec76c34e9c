# Kitwright. On a bare machine (Python 3.11, pip, make, git): `make demo` and `make test`.

PYTHON ?= python3
BIN := .venv/bin
READY := .venv/ready

.PHONY: help setup demo serve test check bench docs lock clean

help:
	@echo "make setup   the environment in .venv, from requirements.lock"
	@echo "make demo    the whole job once, in demo-shop/"
	@echo "make serve   the pages of the demo shop, on this machine only"
	@echo "make test    every test that this machine can run"
	@echo "make check   format, lint, types, import contracts"
	@echo "make bench   the speed ratios"
	@echo "make docs    the documentation as a site, in docs-site/; make test runs its examples"
	@echo "make lock    write requirements.lock anew from pyproject.toml"

setup: $(READY)

$(READY): requirements.lock pyproject.toml
	test -x $(BIN)/python || $(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	@touch $(READY)

demo: setup
	$(BIN)/kitwright demo

serve: setup
	$(BIN)/kitwright serve demo-shop

test: setup
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m pytest -n auto --dist worksteal tests

check: setup
	$(BIN)/ruff format --check src tests benchmarks docs/conf.py
	$(BIN)/ruff check src tests benchmarks docs/conf.py
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: setup
	$(BIN)/python -m pytest benchmarks -p no:xdist -p no:randomly -s -q --override-ini=python_files='bench_*.py'

docs: setup
	$(BIN)/python -m sphinx -q -W --keep-going -b html -d build/docs-trees docs docs-site
	@echo "open docs-site/index.html"

lock:
	test -x .lock-env/bin/uv || ($(PYTHON) -m venv .lock-env && .lock-env/bin/python -m pip install --quiet uv)
	.lock-env/bin/uv pip compile --quiet --universal --generate-hashes --no-emit-index-url \
		--no-annotate --no-header --python-version 3.11 --extra dev pyproject.toml -o requirements.lock

clean:
	rm -rf .venv .lock-env demo-shop docs-site build .mypy_cache .pytest_cache .ruff_cache .import_linter_cache
