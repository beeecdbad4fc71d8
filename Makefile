# Two commands for a newcomer: `make demo` and `make test`. Nothing outside this folder is touched,
# except Debian packages for the tests, where this account may bring them.

PYTHON ?= python3
UV_VERSION := 0.13.9
UV ?= .tools/bin/uv

# The Python that runs make is the one that is used; uv neither looks for another nor fetches one.
export UV_PYTHON ?= $(PYTHON)
export UV_PYTHON_DOWNLOADS := never
export UV_CACHE_DIR ?= $(CURDIR)/.tools/cache
export UV_LINK_MODE ?= hardlink
RUN := $(UV) run --locked --quiet
MANAGE := $(RUN) python manage.py

# What `check --deploy` looks at: the settings of a served install, in a data folder of its own.
SERVED := FLEETDOORS_DATA_DIR=.tools/served HTTPS=true DEBUG=false DEMO=false \
	PUBLIC_ADDRESS=https://doors.example.org DATABASE_URL= REDIS_URL= SECRET_KEY=

.PHONY: help setup demo test lint bench tests pictures sheet words
.DEFAULT_GOAL := help

help:
	@echo "make demo   build the demo fleet, and serve it at this machine"
	@echo "make test   check everything: lint, types, migrations, measured ratios, tests"
	@echo "make setup  bring the pinned tools and libraries only"
	@echo "make lint   the checks that run no test;  make bench  the measured ratios;  make tests  the tests"

STAMP := .tools/uv-$(UV_VERSION)

$(STAMP):
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "fleetdoors needs Python 3.11 or newer; %s is %s. Try: make PYTHON=python3.11" % (sys.executable, sys.version.split()[0]))'
	@$(PYTHON) -m venv .tools || { echo "Python cannot make a virtual environment here. On Debian: apt-get install python3-venv" >&2; exit 1; }
	@.tools/bin/python -m pip install --quiet --disable-pip-version-check --no-cache-dir "uv==$(UV_VERSION)"
	@touch $@

# Only our own uv is made here: with `make UV=uv` yours is used as it is.
TOOLS := $(if $(filter .tools/bin/uv,$(UV)),$(STAMP))

setup: $(TOOLS)
	@$(UV) sync --locked --quiet

demo: $(TOOLS)
	@$(UV) run --locked --quiet --no-default-groups python manage.py demo

test: lint packages bench tests

.PHONY: packages
packages:
	@$(PYTHON) tests/services/debian_packages.py

lint: setup
	$(RUN) ruff check
	$(RUN) ruff format --check
	$(RUN) mypy
	$(RUN) lint-imports
	$(SERVED) $(MANAGE) makemigrations --check --dry-run
	$(SERVED) $(MANAGE) check --deploy --fail-level WARNING

# What failed is run once more with nothing beside it, and the first that fails again ends the run. It is
# for browsers, servers and measured ratios on a machine that was busy just then; both failures are printed.
define once_more
{ [ $$? -eq 1 ] && echo "These failed, and are run once more, alone:" && $(RUN) python -m pytest -x --last-failed --last-failed-no-failures none
endef

# Alone on the machine: a ratio measured beside other tests says little.
bench: setup
	$(RUN) python -m pytest tests/bench --groups bench || $(once_more) tests/bench; }

tests: setup packages
	$(RUN) python -m pytest -n 2 -m "not bench" --groups browser,postgres,redis \
		|| $(once_more) -m "not bench"; }

# Figures of a large fleet, printed; takes its time. ENGINE=postgresql needs PostgreSQL, and the
# workers Redis.
DOORS ?= 100000
ENGINE ?= sqlite
.PHONY: load
load: setup
	$(RUN) python -m tests.bench.load --doors $(DOORS) --engine $(ENGINE) $(if $(filter postgresql,$(ENGINE)),--workers)

# For trials on a network of your own: a certificate that nobody vouches for, good for 90 days.
NAME ?= doors.example.org
CERTIFICATE ?= tls.pem
.PHONY: certificate
certificate:
	@umask 077; openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 90 \
		-subj "/CN=$(NAME)" -addext "subjectAltName=DNS:$(NAME)" -keyout "$(CERTIFICATE).key" -out "$(CERTIFICATE).new" 2>/dev/null; \
		cat "$(CERTIFICATE).key" "$(CERTIFICATE).new" > "$(CERTIFICATE)"; rm "$(CERTIFICATE).key" "$(CERTIFICATE).new"
	@echo "Serve with: TLS_CERTIFICATE=$(abspath $(CERTIFICATE)) PUBLIC_ADDRESS=https://$(NAME):8443 PORT=8443 HOST=0.0.0.0"

# New texts into the Spanish catalogue, and the catalogue compiled; says what has no translation.
words: setup
	$(RUN) python -m tests.services.words

# The README's pictures, taken anew of the real pages.
pictures: setup
	$(RUN) python -m tests.services.pictures

# Every page of three fleets, photographed in .tools/sheet, and what axe and a phone's width find wrong.
# `make sheet LOOK="--fleets empty --pages today due-list"` looks at less.
LOOK ?=
sheet: setup
	$(RUN) python -m tests.sheet $(LOOK)
