# The four verbs of this project. Each makes what it needs; nothing is installed outside this folder,
# except what a Debian machine lacks, when run as root: python3-venv, and chromium for the tests.
#
#   make demo    plan the mold of the demonstration object into demo-out/gourd.claybed
#   make test    static checks, then every test
#   make check   static checks only: style, import directions, types
#   make bench   measure speed and memory

PYTHON ?= python3
VENV   := .venv
BIN    := $(VENV)/bin
PIP    := $(BIN)/python -m pip --disable-pip-version-check --quiet
DEMO   := src/claybed/assets/demo/gourd.stl

.PHONY: help demo test check bench clean

help:
	@sed -n '/^#   make/s/^# *//p' Makefile

demo: $(VENV)/.run
	@mkdir -p demo-out
	@$(BIN)/claybed plan $(DEMO) --height 180mm --mass 310g --out demo-out/gourd.claybed --replace

check: $(VENV)/.test
	@$(BIN)/ruff check --quiet .
	@$(BIN)/ruff format --quiet --check .
	@$(BIN)/lint-imports
	@$(BIN)/mypy

# While one core checks, the other compiles the kernels, so that no two tests compile the same one.
test: $(VENV)/.test $(VENV)/.browser
	@$(BIN)/python -c 'from claybed.actions.warming import warm_up; warm_up(lambda *_: None, more_pieces=True)' & compiling=$$!; \
	  $(MAKE) --no-print-directory check || { kill $$compiling; exit 1; }; \
	  wait $$compiling
	@$(BIN)/python -m pytest -n auto --dist loadfile --no-loadscope-reorder $(PYTEST)

bench: $(VENV)/.bench
	@set -e; for bench in benchmarks/*.py; do echo "== $$bench"; $(BIN)/python "$$bench"; done

clean:
	@rm -rf $(VENV) demo-out build src/*.egg-info .mypy_cache .pytest_cache .ruff_cache .hypothesis .import_linter_cache

# Stamps: each says that the step has been done since the files behind it last changed.

$(VENV)/.made:
	@command -v $(PYTHON) >/dev/null || { echo "claybed needs Python 3.11 to 3.13; install it, or type: make PYTHON=/path/to/python3.11 demo"; exit 1; }
	@$(PYTHON) -c 'import sys; sys.exit(not (3, 11) <= sys.version_info < (3, 14))' || { \
	  echo "claybed needs Python 3.11 to 3.13, and $(PYTHON) is $$($(PYTHON) -V 2>&1); type: make PYTHON=/path/to/python3.11 demo"; exit 1; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || { \
	  echo "This Python cannot make virtual environments yet."; \
	  if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
	    echo "Installing python3-venv with apt-get."; \
	    apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends python3-venv >/dev/null; \
	  fi; \
	  $(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || { echo "Type: sudo apt-get install python3-venv"; exit 1; }; }
	@test -x $(BIN)/python || { echo "Making the virtual environment $(VENV)."; $(PYTHON) -m venv $(VENV); }
	@touch $@

$(VENV)/.run: $(VENV)/.made pyproject.toml requirements.txt
	@echo "Installing claybed and what it needs into $(VENV); this takes about a minute the first time."
	@$(PIP) install --constraint requirements.txt --editable .
	@touch $@

# What runs comes with what tests, in one go. Installed code is compiled here, since a warning that compiling
# it gives would be an error within a test.
$(VENV)/.test: $(VENV)/.made pyproject.toml requirements.txt
	@echo "Installing claybed, what it needs and what the tests need into $(VENV); this takes a minute or two."
	@$(PIP) install --constraint requirements.txt --editable '.[test]'
	@touch $(VENV)/.run $@

# The 3D page is looked at in Chromium; without it those tests are skipped and say so.
$(VENV)/.browser: $(VENV)/.test
	@{ command -v chromium || command -v chromium-browser || command -v google-chrome; } >/dev/null || { \
	  if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
	    echo "Installing chromium with apt-get, to look at the 3D page."; \
	    apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends chromium >/dev/null; \
	  fi; \
	  { command -v chromium || command -v chromium-browser || command -v google-chrome; } >/dev/null || \
	    echo "There is no Chromium here: tests of the 3D page are skipped. To run them: sudo apt-get install chromium"; }
	@touch $@

$(VENV)/.bench: $(VENV)/.run
	@$(PIP) install --constraint requirements.txt --editable '.[bench]'
	@touch $@
