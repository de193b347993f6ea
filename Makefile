# Levare: everything runs from here. Needs Python 3.11 or newer and make; the rest is installed into .venv.
PYTHON ?= python3
ARGS ?=
PY := .venv/bin/python
INSTALL := @$(PYTHON) requirements/install.py

# What `make check` gives the deploy check: production settings with secrets that live for this one command. The check sends nothing.
THROWAWAY = $(shell $(PYTHON) -c "import base64, os; print(base64.urlsafe_b64encode(os.urandom(48)).decode())")
NOTE_KEY = $(shell $(PYTHON) -c "import base64, os; print(base64.b64encode(os.urandom(32)).decode())")
PRODUCTION = env LEVARE_PROFILE=production SECRET_KEY='$(THROWAWAY)' NOTE_KEYS='$(NOTE_KEY)' \
	ALLOWED_HOSTS=school.example BASE_URL=https://school.example ORGANIZER_EMAIL=lessons@school.example \
	DATABASE_URL=sqlite:///var/check.sqlite3 EMAIL_URL=smtp+tls://mail.school.example:587

# Compiled modules are kept, whatever the shell says: the suite starts a hundred processes that would each compile Django.
unexport PYTHONDONTWRITEBYTECODE

.DEFAULT_GOAL := help
.PHONY: demo demo-once test check bench load races mail-pictures mutants pictures audit help

demo: ## load the demo school, run the main job once, tell the story, then serve it
	$(INSTALL) base
	@$(PY) manage.py demo $(ARGS)

demo-once: ## the same on a fresh demo database, without serving; fails unless the main job succeeded
	$(INSTALL) base
	@$(PY) manage.py demo_once $(ARGS)

test: ## the suite on SQLite, then on PostgreSQL with Redis where they answer (ARGS="-k name", PROFILE=quick, ci or long)
	$(INSTALL) browser
	@$(PY) -m tests.run $(ARGS)

check: ## lint, format, types, import contracts, templates, migrations, deploy check, schema
	$(INSTALL) dev
	@mkdir -p var
	.venv/bin/ruff check .
	.venv/bin/ruff format --check .
	.venv/bin/mypy
	.venv/bin/lint-imports
	git ls-files -z --cached --others --exclude-standard '*.html' | xargs -0 -r .venv/bin/djade --check --target-version 5.2
	$(PY) manage.py makemigrations --check --dry-run
	@echo 'manage.py check --deploy, under production settings'; $(PRODUCTION) $(PY) manage.py check --deploy --fail-level WARNING
	$(PY) manage.py spectacular --validate --fail-on-warn --file var/schema.yml

bench: ## side-by-side figures to var/bench.json and a table
	$(INSTALL) test
	@$(PY) -m tests.bench $(ARGS)

load: ## what this machine carries: searches, pages, feed polls, bookings and emails a second, to var/load.json
	$(INSTALL) test
	@$(PY) -m tests.load $(ARGS)

races: ## races, kills and faults with their history checker, to var/races.json (ARGS="--only R5 --seed 7", PROFILE=long)
	$(INSTALL) test
	@$(PY) -m tests.races $(ARGS)

mail-pictures: ## every golden mail as a picture, at two widths, light and dark, to var/mail-pictures
	$(INSTALL) browser
	@$(PY) -m tests.mail_pictures $(ARGS)

mutants: ## mutation score of the rule code, about six minutes
	$(INSTALL) dev
	PROFILE=mutants .venv/bin/mutmut run $(ARGS) > /dev/null
	@.venv/bin/mutmut results | grep -v ": killed" || true
	@.venv/bin/mutmut export-cicd-stats && cat mutants/mutmut-cicd-stats.json; echo; echo "Survivors are explained in tests/mutants.md."

pictures: ## draw the pictures of the README and the guides anew, from the demo school (needs chromium)
	$(INSTALL) browser
	@$(PY) -m tests.pictures

audit: ## known advisories against what is installed, where the advisory service answers
	$(INSTALL) dev
	.venv/bin/pip-audit --require-hashes --disable-pip -r requirements/base.txt

help: ## this list
	@grep -hE '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/^([a-z-]+):[^#]*## (.*)/  make \1@\2/' | awk -F@ '{printf "%-18s %s\n", $$1, $$2}'
