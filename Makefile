# Two commands do everything on Debian, Ubuntu or macOS with Rust installed:
#   make demo   the main job on sample-terrain, maps into demo-out/
#   make test   the whole test suite
# The others: make check (format, lints, docs), make figures, make bench.

SHELL := /bin/bash
SUDO := $(shell [ "$$(id -u)" = 0 ] || echo sudo)
PLAN := sample-terrain/ferry-lights.toml
PERCHLINE := target/release/perchline

# Tests that lean on data from outside say so and pass without it; where the
# data is there they must use it.
REQUIRE_DATA = $$([ -e target/test-data/jacksboro_fault_dem.npz ] && [ -d ../shared/validation ] && echo PERCHLINE_REQUIRE_DATA=1)

.PHONY: demo test check figures bench system test-system test-data

demo: system
	cargo build --release --locked
	$(PERCHLINE) rank $(PLAN) --out demo-out
	$(PERCHLINE) path $(PLAN) --from "Ridge overlook" --to "Aid 5" --out demo-out
	@echo "The maps are in $(CURDIR)/demo-out: open the .png files, or the .geojson in any map program."

test: system test-system test-data
	env $(REQUIRE_DATA) cargo test --locked

check: system
	cargo fmt --check
	cargo clippy --locked --all-targets -- -D warnings
	RUSTDOCFLAGS="-D warnings" cargo doc --locked --no-deps

# Every number that docs/ quotes, one a line: figure NAME VALUE UNIT.
figures: system test-system test-data
	@env $(REQUIRE_DATA) cargo test --locked --quiet -- --nocapture 2>/dev/null | grep -o 'figure [a-z0-9_]* .*' | sort -u
	@cargo bench --locked --quiet --bench figures 2>/dev/null | grep -o 'figure [a-z0-9_]* .*'

bench: system
	cargo bench --locked --bench engine

# Libraries that the program links: GDAL with PROJ and GEOS behind it.
system:
	@if pkg-config --exists gdal 2>/dev/null && command -v cc >/dev/null; then :; \
	elif command -v apt-get >/dev/null; then \
		$(SUDO) apt-get update -qq && $(SUDO) apt-get install -y -qq build-essential pkg-config libgdal-dev; \
	elif command -v brew >/dev/null; then brew install gdal pkg-config; \
	else echo "Install GDAL's development files and pkg-config, then run this again." >&2; exit 1; fi
	@command -v cargo >/dev/null || { echo "Install Rust first: https://rustup.rs" >&2; exit 1; }

# What only the tests use: GDAL's own programs as a reference, pip to fetch a real elevation model.
test-system:
	@if command -v gdal_viewshed >/dev/null && python3 -m pip --version >/dev/null 2>&1; then :; \
	elif command -v apt-get >/dev/null; then \
		$(SUDO) apt-get update -qq && $(SUDO) apt-get install -y -qq gdal-bin python3-pip; \
	elif command -v brew >/dev/null; then brew install gdal python3; fi

test-data:
	@bash tests/fetch-real-elevation.sh
