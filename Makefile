PYTHON ?= python3
VENV   := .venv
BIN    := $(VENV)/bin

.PHONY: demo test fuzz cover check clean

demo: $(VENV)/installed
	$(BIN)/passalong make sample_images --out demo

test: $(VENV)/test-installed
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/python -m pytest -n 2

fuzz: $(VENV)/test-installed
	$(BIN)/python -m fuzz

# Road and command line, by branches; fails below the floor in pyproject.toml.
ROAD_TESTS := $(addprefix tests/test_,keeping.py piece_promises.py intake.py road_edges.py cli.py \
	faces.py terminal.py tamed.py spots.py reading.py words.py cameras.py second_core.py enough.py plan_kept.py)

cover: $(VENV)/test-installed
	$(BIN)/coverage erase
	$(BIN)/coverage run -m pytest -q -n 2 $(ROAD_TESTS)
	$(BIN)/coverage combine --quiet
	$(BIN)/coverage report

$(VENV)/installed: pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --editable .
	touch $@

$(VENV)/test-installed: $(VENV)/installed
	$(BIN)/python -m pip install --quiet --editable '.[test]'
	touch $@

clean:
	rm -rf $(VENV) demo
