# Two commands do everything on Debian, Ubuntu or macOS with Rust installed:
#   make demo   the main job on sample-terrain, maps into demo-out/
#   make test   the whole test suite
# To have it on this machine: make install (PREFIX=/usr/local, DESTDIR for packagers).
# To hand it on: make package (a Debian package and an archive with all libraries, in
# target/package), make package-test (both tried on bare systems).
# The others: make check (format, lints, docs), make figures, make sweep-errors,
# make bench, make looks (every picture of both samples on one sheet). Long ones, whose results docs/trust.md and docs/scale.md record:
# make big-raster, make large, make fuzz, make fuzz-files, make mutants, make line-coverage, make supply.

SHELL := /bin/bash
.SHELLFLAGS := -euo pipefail -c
PLAN := sample-terrain/ferry-lights.toml
PERCHLINE := target/release/perchline
PREFIX := /usr/local
DESTDIR :=
PACKAGES := target/package

# The oldest Rust that builds this, as Cargo.toml says.
RUST := $(shell sed -n 's/^rust-version = "\(.*\)"/\1/p' Cargo.toml)

# Packages of Debian and Ubuntu: to build, to pack, and to test.
BUILD_PACKAGES := build-essential cmake libclang-dev pkg-config libgdal-dev
NODE_PACKAGES := nodejs npm
PACK_PACKAGES := dpkg-dev patchelf python3 xz-utils
PACK_TEST_PACKAGES := mmdebstrap
TEST_PACKAGES := gdal-bin python3 python3-pip chromium poppler-utils strace

# Installs packages as root, through sudo, or says what is wanted.
define apt_install
	root=""; \
	if [ "$$(id -u)" != 0 ]; then \
		command -v sudo >/dev/null || { echo "Not root and no sudo here. As root: apt-get install $(1)" >&2; exit 1; }; \
		root=sudo; \
	fi; \
	{ $$root apt-get update -qq && $$root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq $(1); } >&2
endef

# What the tests want and this machine lacks is left out, each with a line of why.
# PERCHLINE_SKIP from outside is taken as it is: set to nothing, all is checked.
lacking = export PERCHLINE_SKIP="$${PERCHLINE_SKIP-$$(sh tests/lacking.sh)}"

.PHONY: demo test build install package package-test check figures sweep-errors bench looks big-raster large fuzz fuzz-files mutants line-coverage pages supply rust system node test-system test-data

demo: build
	$(PERCHLINE) rank $(PLAN) --out demo-out
	$(PERCHLINE) path $(PLAN) --from "Car park" --to "Aid 6" --out demo-out
	$(PERCHLINE) brief $(PLAN) --out demo-out
	$(PERCHLINE) ready $(PLAN) --out demo-out
	@echo "Results are in $(CURDIR)/demo-out: open the .png files, the .geojson in any map program, and brief.html in a browser."

build: system
	cargo build --release --locked

# Installs what was built; builds first where nothing was, which root need not do.
install:
	@[ -x $(PERCHLINE) ] || $(MAKE) build
	.package/stage.sh $(PERCHLINE) "$(DESTDIR)$(PREFIX)"
	@echo "Installed below $(DESTDIR)$(PREFIX). Try: perchline check $(PREFIX)/share/perchline/sample/ferry-lights.toml"

package: build
	@if command -v dpkg-shlibdeps >/dev/null && command -v patchelf >/dev/null; then :; \
	elif command -v apt-get >/dev/null; then $(call apt_install,$(PACK_PACKAGES)); \
	else echo "Packages are built on Debian or Ubuntu." >&2; exit 1; fi
	rm -f $(PACKAGES)/perchline_*.deb $(PACKAGES)/perchline-*.tar.xz
	.package/deb.sh $(PERCHLINE) $(PACKAGES)
	.package/archive.sh $(PERCHLINE) $(PACKAGES)

# Each on a bare system of this release, made from its archive of packages: as root.
package-test: package
	@if command -v mmdebstrap >/dev/null; then :; else $(call apt_install,$(PACK_TEST_PACKAGES)); fi
	tests/packages.sh

test: system test-system test-data
	@$(lacking); set -x; cargo test --locked

# Documentation with the example: dependencies are then those that the tests have.
check: system
	cargo fmt --all --check
	cargo clippy --locked --all-targets -- -D warnings
	RUSTDOCFLAGS="-D warnings" cargo doc --locked --no-deps --workspace --lib --examples

# Every number that docs/ quotes, one a line: figure NAME VALUE UNIT.
figures: system test-system test-data
	@$(lacking); tests/figures.sh

# How far the sweep is off, on its rays and between them, with histograms.
sweep-errors: system
	cargo test --locked --lib sweep::on_ray -- --nocapture
	cargo bench --locked --bench sweep_figures -- errors

bench: system
	cargo bench --locked --bench engine

# All that people look at, of both samples, on one sheet in target/looks.
looks: build test-system test-data
	@tests/looks.sh $(PERCHLINE)

# A raster of 40,000 x 40,000 cells: wants half a gigabyte of disk.
big-raster: system
	cargo bench --locked --bench big_raster

# Plans of 500 posts, 200,000 footprints, a route of 100,000 corners and so on, at a
# quarter, a half and the whole of their size: half an hour.
large: system
	cargo bench --locked --bench large

# A million cases a reader.
fuzz: system
	PERCHLINE_FUZZ_CASES=$(or $(CASES),1000000) cargo test --locked --test fuzz_readers -- --nocapture

# A million files from a stranger, read through the real libraries in the box.
fuzz-files: system
	PERCHLINE_FUZZ_CASES=$(or $(CASES),1000000) cargo test --locked --test fuzz_files -- --nocapture

# The scripts and styles of the pages, bundled with the map library. What comes out is
# checked in, so that a build needs no Node.js; a test holds it to its sources.
pages: node
	sh src/pages/fetch.sh
	sh src/pages/names.sh src/pages
	sh src/pages/bundle.sh src/pages/bundled

# Wants cargo-mutants: cargo install --locked cargo-mutants
mutants: system
	tests/mutants.sh

# Wants cargo-llvm-cov, and llvm-cov and llvm-profdata: those of rustup
# component add llvm-tools, or others that LLVM_COV and LLVM_PROFDATA name.
line-coverage: system test-system test-data
	@$(lacking); tests/line-coverage.sh

# Licences, bans, sources and advisories of what is linked, and a list of it
# (CycloneDX) in docs/linked.cdx.json. Wants cargo-deny and cargo-cyclonedx.
supply: rust
	cargo deny --config .deny.toml check licenses bans sources
	@if cargo deny --config .deny.toml fetch db; then cargo deny --config .deny.toml check --disable-fetch advisories; \
	else echo "The database of advisories could not be fetched: not checked." >&2; fi
	cargo cyclonedx --format json --target all --override-filename perchline.cdx
	python3 tests/linked.py <perchline.cdx.json >docs/linked.cdx.json
	find . -path ./target -prune -o -name perchline.cdx.json -exec rm {} +

rust:
	@command -v cargo >/dev/null || { echo "Install Rust $(RUST) or newer first: https://rustup.rs" >&2; exit 1; }
	@found=$$(cargo --version | cut -d ' ' -f 2); \
	oldest=$$(printf '%s\n' "$(RUST)" "$${found%%-*}" | sort -t . -k 1,1n -k 2,2n -k 3,3n | head -n 1); \
	[ "$$oldest" = "$(RUST)" ] || { echo "cargo $$found is too old: Rust $(RUST) or newer is needed. With rustup: rustup update stable" >&2; exit 1; }

# Libraries that the program links: GDAL with PROJ and GEOS behind it; cmake, a
# C++ compiler and libclang build the solver of the choice of sites.
system: rust
	@if pkg-config --exists gdal 2>/dev/null && command -v c++ >/dev/null && command -v cmake >/dev/null \
		&& { [ "$$(uname)" = Darwin ] || find /usr/lib /usr/lib64 -name 'libclang*.so*' 2>/dev/null | grep -q .; }; then :; \
	elif command -v apt-get >/dev/null; then $(call apt_install,$(BUILD_PACKAGES)); \
	elif command -v brew >/dev/null; then brew install gdal pkg-config cmake >&2; \
	else echo "Install C and C++ compilers, cmake, pkg-config and GDAL's development files, then run this again." >&2; exit 1; fi

# Node.js with npm, to bundle the pages and to drive a browser over them.
node:
	@if command -v npm >/dev/null; then :; \
	elif command -v apt-get >/dev/null; then $(call apt_install,$(NODE_PACKAGES)); \
	elif command -v brew >/dev/null; then brew install node >&2; \
	else echo "Install Node.js with npm, then run this again." >&2; exit 1; fi

# What only the tests use: GDAL's own programs as a reference, pip to fetch a real elevation model, a browser for the pages.
test-system: node
	@if command -v gdal_viewshed >/dev/null && python3 -m pip --version >/dev/null 2>&1 \
		&& { [ "$$(uname)" = Darwin ] || { command -v chromium >/dev/null && command -v pdftotext >/dev/null && command -v strace >/dev/null; }; }; then :; \
	elif command -v apt-get >/dev/null; then $(call apt_install,$(TEST_PACKAGES)); \
	elif command -v brew >/dev/null; then brew install gdal python3 >&2; fi

test-data:
	@sh tests/fetch-real-elevation.sh
	@sh tests/browser/fetch.sh
	@sh src/pages/fetch.sh
