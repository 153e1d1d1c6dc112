PYTHON ?= python3
VENV   := .venv
BIN    := $(VENV)/bin

.PHONY: demo test fuzz check clean

demo: $(VENV)/installed
	$(BIN)/passalong make sample_images --out demo

test: $(VENV)/test-installed
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/python -m pytest -n 2

fuzz: $(VENV)/test-installed
	$(BIN)/python -m fuzz

$(VENV)/installed: pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --editable .
	touch $@

$(VENV)/test-installed: $(VENV)/installed
	$(BIN)/python -m pip install --quiet --editable '.[test]'
	touch $@

clean:
	rm -rf $(VENV) demo
