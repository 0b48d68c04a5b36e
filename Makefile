# Set-up and everyday commands; README has the Windows equivalents.
PYTHON ?= python3
VENV ?= .venv
BIN = $(VENV)/bin
INSTALL = $(BIN)/python -m pip install --quiet --disable-pip-version-check

.PHONY: demo test check bench sample clean

demo: $(VENV)/core.ready  ## the main job on the sample, into out/
	$(BIN)/python -m core plan sample_meshes/tailgate_scan.ply sample_meshes/tailgate_shape.stl \
	    --panel-unit mm --target-unit mm --out out

test: $(VENV)/test.ready  ## all tests
	$(BIN)/python -m pytest -n 2

check: $(VENV)/check.ready  ## style and types
	$(BIN)/ruff check .
	$(BIN)/mypy

bench: $(VENV)/test.ready  ## times beside other libraries
	$(BIN)/python -m tests.benchmarks

sample: $(VENV)/core.ready  ## make the sample meshes again
	$(BIN)/python sample_meshes/make_tailgate.py

$(VENV)/%.ready: pyproject.toml
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(INSTALL) "pip>=25.1"
	$(INSTALL) --group $*
	touch $@

clean:
	rm -rf .venv* out
