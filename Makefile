# The two commands of a newcomer are `make run` and `make test`. Both install what is missing with
# apt-get on Debian or Ubuntu; a Rust toolchain has to be there.

PACKAGES := build-essential pkg-config clang libclang-dev libopencv-dev libopencv-contrib-dev
# The pages are tested in a browser, sheets and films by those who read them.
TEST_PACKAGES := chromium chromium-driver poppler-utils ffmpeg
CAMERA ?= demo
SUDO := $(if $(filter 0,$(shell id -u)),,sudo)

# Installs those of some packages that are missing.
install = missing=""; \
	for package in $(1); do \
	  dpkg-query -W -f='$${db:Status-Status}\n' $$package 2>/dev/null | grep -qx installed \
	    || missing="$$missing $$package"; \
	done; \
	if [ -n "$$missing" ]; then \
	  command -v apt-get >/dev/null || { echo "Please install:$$missing"; exit 1; }; \
	  echo "== installing:$$missing"; \
	  $(SUDO) apt-get update -q && \
	  $(SUDO) env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $$missing; \
	fi;

.PHONY: run test hunt packages test-packages toolchain

# `make run CAMERA=folder-or-film` watches another camera than the demo.
run: packages toolchain
	@echo "== building; the first time takes some minutes"
	cargo build --release --locked
	@echo "== open http://127.0.0.1:8014/ (Ctrl-C stops)"
	cargo run --release --locked --quiet -- serve --camera "$(CAMERA)"

# The cases that properties are tried on are the same ones in every run; `make hunt` draws others.
test: export PROPTEST_RNG_SEED = 1
test: packages test-packages toolchain target/npm target/python
	@echo "== 1/4 format"
	cargo fmt --check
	@echo "== 2/4 lints"
	cargo clippy --locked --all-targets -- -D warnings
	@echo "== 3/4 tests"
	cargo test --locked
	@echo "== 4/4 benches build"
	cargo bench --locked --no-run --profile test
	@echo "== all well"

# Tries the physics on many more cases, never the same; what fails is kept as a case for good.
hunt: packages toolchain
	PROPTEST_MAX_GLOBAL_REJECTS=100000000 PROPTEST_CASES=$(or $(CASES),100000) \
	  cargo test --locked --lib motion

packages:
	@$(call install,$(PACKAGES))

test-packages:
	@$(call install,$(TEST_PACKAGES))
	@command -v npm >/dev/null || { $(call install,npm) }
	@python3 -m pip --version >/dev/null 2>&1 || { $(call install,python3-pip) }

# What the tests of the pages take from npm; the lock file names each byte of it.
target/npm: tests/npm/package.json tests/npm/package-lock.json
	@echo "== fetching what the tests of the pages need"
	@rm -rf $@ && mkdir -p $@ && cp $^ $@/
	npm ci --prefix $@ --ignore-scripts --no-audit --no-fund || { rm -rf $@; exit 1; }
	@touch $@

# What reads the exports in the tests.
target/python: tests/python/requirements.txt
	@echo "== fetching what reads the exports in the tests"
	@rm -rf $@
	python3 -m pip install -q --only-binary :all: --no-deps --target $@ -r $< || { rm -rf $@; exit 1; }
	@touch $@

toolchain:
	@command -v cargo >/dev/null || { \
	  echo "There is no cargo: install a Rust toolchain (1.94 or later) first, by rustup or your system."; \
	  exit 1; }
