# Two commands do everything: `make demo` and `make test`. Both make their own environment first.
PYTHON ?= python3
ENV = .venv
PORT ?= 8087
DONE = $(ENV)/installed

.PHONY: demo test check bench pictures clean

$(DONE): pyproject.toml constraints.txt
	$(PYTHON) -c 'import sys; sys.exit("airtally needs Python 3.11 or newer; name one with make PYTHON=python3.12") if sys.version_info < (3, 11) else None'
	$(PYTHON) -m venv $(ENV)
	$(ENV)/bin/pip install --quiet --disable-pip-version-check --constraint constraints.txt --editable '.[test,postgres]'
	touch $(DONE)

demo: $(DONE)  ## build thirteen weeks of an invented repeater and show its pages
	$(ENV)/bin/airtally demo --folder demo --listen 127.0.0.1:$(PORT)

test: $(DONE)  ## the whole test suite
	$(ENV)/bin/python -m pytest

check: $(DONE)  ## what a change must pass: lint, types, tests
	$(ENV)/bin/ruff check .
	$(ENV)/bin/ruff format --check .
	$(ENV)/bin/mypy
	$(ENV)/bin/python -m pytest

bench: $(DONE)  ## the benches, whole; results go to tests/benchmarks/results.md
	$(ENV)/bin/python -m tests.benchmarks

pictures: $(DONE)  ## the README's pictures, anew from the demo; needs Chromium
	$(ENV)/bin/python -m docs.pictures

clean:
	rm -rf $(ENV) demo
