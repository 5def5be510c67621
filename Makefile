# make report   sets everything up and renders the demo reports
# make test     sets everything up and runs every check
# make refresh  makes anew what is committed and made: demo records, notebooks, reports
PYTHON ?= python3.11
BIN := .venv/bin
UV_VERSION := 0.13.9
export PYTHONHASHSEED := 0
export MPLBACKEND := agg

.PHONY: setup report test lint types unit chromium notebooks refresh reference bench fuzz study-coverage study-disclosure study-truth study-regret study-survey test-r lock clean

setup: .venv/ready

.venv/ready: .ci/requirements.txt pyproject.toml
	$(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet "uv==$(UV_VERSION)"
	$(BIN)/uv pip sync --quiet --system-certs --compile-bytecode --python $(BIN)/python --require-hashes .ci/requirements.txt
	$(BIN)/uv pip install --quiet --system-certs --python $(BIN)/python --no-deps --no-build-isolation --editable .
	touch $@

lock:
	$(BIN)/uv pip compile --quiet --system-certs --upgrade --universal --python-version 3.11 --generate-hashes \
	  --no-emit-index-url --extra dev pyproject.toml --output-file .ci/requirements.txt \
	  --custom-compile-command "make lock"

report: setup
	for name in owner analyst club records; do \
	  $(BIN)/wornby report $$name data_demo --to reports || exit 1; done
	$(BIN)/wornby report vehicle data_demo --to reports --set 'renewed={"water pump"=3}' \
	  --set original=thermostat --set 'degraded=coolant transfer pipe, left' \
	  --set 'sound=clutch slave cylinder'
	$(BIN)/wornby life data_demo --component "water pump" --picture reports/water_pump.svg

test: lint types unit notebooks

lint: setup
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .

types: setup
	$(BIN)/mypy

unit: setup chromium
	$(BIN)/python -m pytest -q -n 2

# the browser that the pages are tested in, from Debian's packages; elsewhere those tests are skipped
chromium:
	@command -v chromium >/dev/null || { [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null \
	  && apt-get update -qq && apt-get install -y -qq chromium >/dev/null; } \
	  || echo "no chromium here: the tests in a browser will be skipped"

notebooks: setup
	$(BIN)/python -m pytest -q --nbval notebooks --nbval-sanitize-with tests/nbval_sanitize.cfg

# what is committed and made: the demo records, the executed notebooks, the rendered reports
refresh: setup
	$(BIN)/python -m wornby.demo data_demo
	$(BIN)/jupyter nbconvert --to notebook --execute --inplace --log-level ERROR \
	  --ExecutePreprocessor.record_timing=False notebooks/*.ipynb
	$(MAKE) report

# what every public name does, from the docstrings: open build/reference/index.html
reference: setup
	PYTHONPATH=analysis $(BIN)/pdoc --docformat numpy --output-directory build/reference wornby

bench: setup
	$(BIN)/python -m pytest -q tests/bench --override-ini "addopts=--import-mode=importlib"

# new random cases for every property test; about half an hour
fuzz: setup
	$(BIN)/python -m pytest -q -n 2 --hypothesis-profile=fuzz $$(grep -rl hypothesis --include='test_*.py' tests)

# the coverage of 90 % intervals, a thousand data sets a cell: about an hour on two cores
study-coverage: setup
	$(BIN)/python tests/studies/coverage.py 1000

# what clubs may show of their answers, and how far what they withhold stays open: a few minutes
study-disclosure: setup
	cd tests && PYTHONPATH=../analysis ../$(BIN)/python -m studies.disclosure 200

# how far each observation rule is off in eight simulated worlds, 200 workshops in each: a quarter of an hour
study-truth: setup
	cd tests && PYTHONPATH=../analysis POLARS_MAX_THREADS=1 ../$(BIN)/python -m studies.truth 200

# what decisions cost beyond the best, how often years lose at the advised price and counts fall in
# their interval, on simulated workshops: about twelve minutes on two cores
study-regret: setup
	cd tests && PYTHONPATH=../analysis POLARS_MAX_THREADS=1 OMP_NUM_THREADS=1 ../$(BIN)/python -m studies.regret

# how often a club's weighted answers hold the truth, 300 clubs in each of two worlds: ten minutes
study-survey: setup
	cd tests && PYTHONPATH=../analysis POLARS_MAX_THREADS=1 OMP_NUM_THREADS=1 ../$(BIN)/python -m studies.survey 300

# makes R's answers anew and compares; installs Debian's packages of R
test-r: setup
	apt-get install -y -qq r-cran-survival r-cran-npsurv r-cran-survey
	cd tests && PYTHONPATH=../analysis ../$(BIN)/python -m published.make_r_answers
	$(BIN)/python -m pytest -q tests/published/test_r_agreement.py

clean:
	rm -rf .venv .mypy_cache .ruff_cache .pytest_cache .hypothesis
