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
ROAD_TESTS := tests/road tests/faces $(addprefix tests/reading/test_,spots.py reading.py cameras.py \
	second_core.py) tests/order/test_enough.py tests/cutting/test_plan_kept.py

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
