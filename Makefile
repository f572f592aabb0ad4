# make demo   the whole way on an invented animal: scans, joints, rig, four poses, figures, pictures, hand-over (in build/demo)
# make test   every test this Python can run, those in Blender included; those that take minutes: make validation
# Needs git, make and Python 3.11 or 3.13 with venv; everything else is brought. PYTHON=… picks another one.

PYTHON ?= python3
SERIES := $(shell $(PYTHON) -c 'import sys; print("%d.%d" % sys.version_info[:2])')
VENV := .venv-$(SERIES)
RUN := $(VENV)/bin/python
SOURCES := $(shell git ls-files core_calcs addon docs build_extension.py build_pages.py requirements/wheels.txt requirements/pages.txt)
ZIP := dist/counterpoise-linux-x64.zip
GUI_TREE ?= .cache/gui
GUI_TREE_5_2 ?= .cache/gui-sid
export OMP_NUM_THREADS ?= 1
# OpenBLAS rounds otherwise on each family of processors: the same here on all, so that a figure on an edge falls one way.
export OPENBLAS_CORETYPE ?= Haswell

# Blender's Python module exists for one Python each.
BLENDER_3.11 := 4.5
BLENDER_3.13 := 5.2
BLENDER := $(BLENDER_$(SERIES))
BLENDER_VENV := .venv-blender-$(BLENDER)
QUICK := actions build document posing site skeleton spatial statics

.PHONY: planted mounts demo dog-demo gui gui-whole pictures test core-tests blender-tests brief long check validation slow trials bench dog human strider extension blender format clean

demo: $(VENV)/ready blender
	$(RUN) demo_blend/run_strider.py --out build/demo --blender $(BLENDER_VENV)/bin/python --zip $(ZIP)

# The same on the bones of a dog, by the command line and then in Blender (in build/dog).
dog-demo: $(VENV)/ready dog blender
	$(RUN) demo_blend/run_dog.py --bones .cache/dog --out build/dog --blender $(BLENDER_VENV)/bin/python --zip $(ZIP)

# Ten made-up animals with faults of every kind: what the survey finds, misses, makes up.
planted: $(VENV)/ready
	$(RUN) tests/planted/run.py --out build/planted

# Ten as they were mounted, with faults of every kind: what the audit finds, leaves undecided, accuses. Half an hour and more.
mounts: $(VENV)/ready
	$(RUN) tests/planted/run_audit.py --out build/mounts

test: core-tests blender-tests
	@echo "Ran on Python $(SERIES) and Blender $(BLENDER). Not run here, for want of the other Python: Blender $(filter-out $(BLENDER),4.5 5.2)."

core-tests: $(VENV)/ready dog strider
	$(RUN) -m pytest tests --ignore tests/blender -m "not slow and not trial"

blender-tests: $(VENV)/ready blender
	COUNTERPOISE_BLENDER=1 COUNTERPOISE_ZIP=$(ZIP) $(BLENDER_VENV)/bin/python -m pytest tests/blender -m "not slow and not trial"

# In Blender all, of the core the quick parts: CI on the second Python, within its hour.
brief: $(VENV)/ready dog strider blender
	$(RUN) -m pytest $(QUICK:%=tests/unit/%) -m "not slow and not trial"
	COUNTERPOISE_BLENDER=1 COUNTERPOISE_ZIP=$(ZIP) $(BLENDER_VENV)/bin/python -m pytest tests/blender -m "not slow and not trial"
	@echo "Ran on Python $(SERIES) and Blender $(BLENDER), of the core itself $(QUICK) alone."

# What CI's hour has no room for: to be run by hand on either Python before a release, and after a change to what it tries.
long: slow dog-demo gui-whole

check: $(VENV)/ready
	$(VENV)/bin/ruff check .
	$(VENV)/bin/ruff format --check .
	$(VENV)/bin/mypy
	$(RUN) -m pytest tests/architecture

validation: $(VENV)/ready dog human
	$(RUN) -m pytest tests/validation -m "not trial" --validation-table build/validation.csv
	$(RUN) -m pytest tests/unit -m slow

# What `make test` leaves out, but for the trials.
slow: $(VENV)/ready dog human blender
	$(RUN) -m pytest tests --ignore tests/blender -m "slow and not trial"
	COUNTERPOISE_BLENDER=1 COUNTERPOISE_ZIP=$(ZIP) $(BLENDER_VENV)/bin/python -m pytest tests/blender -m "slow and not trial"

# What takes half an hour and more: every vertebra of the dog turned, jittered; its bones exchanged; long walks in Blender; poses
# found again from their silhouettes alone, six of the seed that is told of and six of another.
trials: $(VENV)/ready dog strider blender
	$(RUN) tests/posing_targets/run.py --out build/posing_targets
	$(RUN) tests/posing_targets/run.py --out build/posing_targets_101 --seed 101
	$(RUN) -m pytest tests --ignore tests/blender -m trial
	COUNTERPOISE_BLENDER=1 COUNTERPOISE_ZIP=$(ZIP) $(BLENDER_VENV)/bin/python -m pytest tests/blender -m trial

bench: $(VENV)/ready dog blender
	COUNTERPOISE_ZIP=$(ZIP) $(RUN) tests/benchmarks/run.py

# Blender windows on a virtual screen, used by mouse and keys through the tutorial: 4.3, then 5.2 with a zip for trying. Needs
# Linux x64 and root; says so, first of all, where they lack. A 5.2 that cannot be had is told as not tried. gui-whole: every
# step that is known, in 4.3.
gui gui-whole:
	@$(PYTHON) tests/gui/tree.py
	$(MAKE) $(VENV)/ready $(ZIP)
	$(RUN) tests/gui/blenders.py --zip $(ZIP) --tree $(GUI_TREE) --second-tree $(GUI_TREE_5_2) $(if $(filter gui-whole,$@),--whole --blender 4.3)

# The pictures of README and docs anew: four journeys through the window, then cut. build/demo is made where it is not there.
LOOK := $(RUN) tests/gui/look.py --smooth --zip $(ZIP) --tree $(GUI_TREE)
pictures: $(VENV)/ready $(ZIP) dog
	@$(PYTHON) tests/gui/tree.py
	test -f build/demo/hand-over/poses.csv || $(MAKE) demo
	$(LOOK) --demo build/demo --out build/pictures/demo
	$(LOOK) --out build/pictures/made-up
	$(LOOK) --bones .cache/dog --out build/pictures/dog
	$(LOOK) --journey tutorial --out build/pictures/tutorial
	$(RUN) tests/gui/pictures.py --looks build/pictures --demo build/demo

dog: .cache/dog/complete

human: .cache/human/complete

# The demo's animal with made-up joints, and how the six target poses stand: for the test of the posing tools in Blender.
strider: .cache/strider/complete

# A Python that has bpy, where there is one, lets Blender's own tool validate the zips.
extension: $(VENV)/ready
	$(or $(wildcard $(BLENDER_VENV)/bin/python),$(RUN)) build_extension.py --platform all

blender: $(BLENDER_VENV)/ready $(ZIP)

format: $(VENV)/ready
	$(VENV)/bin/ruff check --fix .
	$(VENV)/bin/ruff format .

$(VENV)/ready: requirements/test.txt pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(VENV)/bin/pip install -q --disable-pip-version-check --require-hashes -r requirements/test.txt
	$(VENV)/bin/pip install -q --disable-pip-version-check --no-deps --no-build-isolation -e .
	touch $@

$(BLENDER_VENV)/ready: requirements/blender-$(BLENDER).txt
	@test -n "$(BLENDER)" || { echo "Blender's Python module is not made for Python $(SERIES). Use PYTHON=python3.11 or python3.13."; exit 1; }
	$(PYTHON) -m venv $(BLENDER_VENV)
	$(BLENDER_VENV)/bin/pip install -q --disable-pip-version-check --require-hashes -r $<
	sh .ci/system-libraries $(BLENDER_VENV)/bin/python
	touch $@

.cache/dog/complete: demo_blend/fetch_dog.py | $(VENV)/ready
	$(RUN) demo_blend/fetch_dog.py .cache/dog
	touch $@

.cache/human/complete: tests/fetch_human.py | $(VENV)/ready
	$(RUN) tests/fetch_human.py .cache/human
	touch $@

STRIDER := $(addprefix tests/posing_targets/,files.py animal.py targets.py) core_calcs/document/schema.json
.cache/strider/complete: $(STRIDER) $(shell git ls-files demo_blend/strider) | $(VENV)/ready
	$(RUN) tests/posing_targets/files.py .cache/strider
	touch $@

$(ZIP): $(SOURCES) | $(VENV)/ready
	$(RUN) build_extension.py --platform linux-x64 --out $@

clean:
	rm -rf build dist .venv-* .mypy_cache .ruff_cache .pytest_cache .hypothesis
