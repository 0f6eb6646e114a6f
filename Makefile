# Two commands do all the set-up: `make demo` and `make test`. Everything lands in .venv.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready
export OPENBLAS_NUM_THREADS := 1
export PIP_DISABLE_PIP_VERSION_CHECK := 1

.PHONY: readme-pictures demo test validation planning check bench broker browser pictures format clean requirements help

help:
	@echo "make demo   a fortnight in an invented shop, in about a minute"
	@echo "make test   the tests (as root it installs the MQTT broker and the browser they need)"
	@echo "make validation  docs/validation.md from what the tests of science measure"
	@echo "make planning  the table of docs/planning.md: how often day plans held"
	@echo "make check  formatting, lint, types, layers"
	@echo "make bench  measurements; results go to docs/bench.md"
	@echo "make pictures  every view of the page, narrow and wide, light and dark, in pictures/"

demo: $(READY)
	$(BIN)/curewatch demo

test: $(READY) broker browser
	$(BIN)/python -m pytest --cov --cov-report=term:skip-covered
	$(BIN)/coverage report --include='curewatch/science/*,curewatch/shop/*' --fail-under=100 --skip-covered

validation: $(READY)
	$(BIN)/python -m pytest tests/science --write-validation -q

planning: $(READY)
	$(BIN)/python -m tests.planning_page

check: $(READY)
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports --no-logo
	@! grep -nE 'https?://' requirements.txt deploy/requirements.txt

bench: $(READY) broker browser
	$(BIN)/python -m tests.bench

format: $(READY)
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

# A half-made environment is removed first; a missing venv module gets the line that mends it.
$(READY): requirements.txt
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	  { echo "curewatch needs Python 3.11 or newer; $(PYTHON) is older. Set PYTHON=python3.11"; exit 1; }
	@rm -rf $(VENV)
	@$(PYTHON) -m venv $(VENV) || { rm -rf $(VENV); \
	  echo; echo "Python's venv module is missing. On Debian and Raspberry Pi OS:"; \
	  echo "    sudo apt-get install python3-venv"; exit 1; }
	$(BIN)/pip install --quiet --no-deps --require-hashes -r requirements.txt
	$(BIN)/pip check
	$(BIN)/pip install --quiet --no-deps --no-build-isolation --no-index -e .
	@touch $@

broker:
	@{ PATH="$$PATH:/usr/sbin" command -v mosquitto && command -v victoria-metrics; } >/dev/null || \
	if [ "$$(id -u)" = 0 ]; then \
	  apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq mosquitto victoria-metrics; \
	else \
	  echo "The broker tests need mosquitto, those of the mirror victoria-metrics; without them they"; \
	  echo "are skipped:    sudo apt-get install mosquitto victoria-metrics"; \
	fi

browser:
	@command -v chromium >/dev/null || command -v chromium-browser >/dev/null || \
	if [ "$$(id -u)" = 0 ]; then \
	  apt-get update -qq && DEBIAN_FRONTEND=noninteractive \
	  apt-get install -y -qq --no-install-recommends chromium fonts-dejavu-core \
	    libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0; \
	else \
	  echo "The browser tests need Chromium and are skipped without it:"; \
	  echo "    sudo apt-get install chromium"; \
	fi

pictures: $(READY) broker browser
	$(BIN)/python -m tests.browser.look pictures

readme-pictures: $(READY) browser
	$(BIN)/python -m tests.browser.readme_pictures

# Pins everything with hashes, naming no host. Needs uv; run it after changing dependencies.
requirements:
	uv export --no-header --no-emit-project --format requirements-txt --extra dev --extra demo \
	  --python 3.11 -o requirements.txt
	uv export --no-header --no-emit-project --format requirements-txt --extra fits --extra install \
	  --python 3.11 -o deploy/requirements.txt
	rm -f uv.lock

clean:
	rm -rf $(VENV) .pytest_cache .mypy_cache .ruff_cache .hypothesis .import_linter_cache \
	  .coverage htmlcov dist pictures
	find curewatch tests -name __pycache__ -type d -prune -exec rm -rf {} +
