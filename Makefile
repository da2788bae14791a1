# The two commands of a newcomer are `make run` and `make test`. Both install what is missing with
# apt-get on Debian or Ubuntu; a Rust toolchain has to be there.

PACKAGES := build-essential pkg-config clang libclang-dev libopencv-dev libopencv-contrib-dev
CAMERA ?= demo
SUDO := $(if $(filter 0,$(shell id -u)),,sudo)

.PHONY: run test packages toolchain

# `make run CAMERA=folder-or-film` watches another camera than the demo.
run: packages toolchain
	@echo "== building; the first time takes some minutes"
	cargo build --release --locked
	@echo "== open http://127.0.0.1:8014/ (Ctrl-C stops)"
	cargo run --release --locked --quiet -- serve --camera "$(CAMERA)"

test: packages toolchain
	@echo "== 1/4 format"
	cargo fmt --check
	@echo "== 2/4 lints"
	cargo clippy --locked --all-targets -- -D warnings
	@echo "== 3/4 tests"
	cargo test --locked
	@echo "== 4/4 benches build"
	cargo bench --locked --no-run
	@echo "== all well"

packages:
	@missing=""; \
	for package in $(PACKAGES); do \
	  dpkg-query -W -f='$${db:Status-Status}\n' $$package 2>/dev/null | grep -qx installed \
	    || missing="$$missing $$package"; \
	done; \
	if [ -n "$$missing" ]; then \
	  command -v apt-get >/dev/null || { echo "Please install:$$missing"; exit 1; }; \
	  echo "== installing:$$missing"; \
	  $(SUDO) apt-get update -q && \
	  $(SUDO) env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $$missing; \
	fi

toolchain:
	@command -v cargo >/dev/null || { \
	  echo "There is no cargo: install a Rust toolchain (1.94 or later) first, by rustup or your system."; \
	  exit 1; }
