#!/bin/bash
# Runs the tests with every line counted, prints
#   figure line_coverage_percent VALUE percent
# over src/, and leaves the lines that no test runs in target/line-coverage.txt.
# A build of its own, of everything: ten minutes and more.
set -euo pipefail
cd "$(dirname "$0")/.."

command -v cargo-llvm-cov >/dev/null || { echo "Wanted: cargo install --locked cargo-llvm-cov" >&2; exit 1; }

# Not counted: the build script; tests count themselves out.
ignore='(^|/)(tests|benches|sample-terrain)/|src/pages/bundle\.rs$'
cargo llvm-cov --no-report --locked --lib --bins --tests -- --quiet >&2
cargo llvm-cov report --ignore-filename-regex "$ignore" --json --summary-only >target/line-coverage.json
cargo llvm-cov report --ignore-filename-regex "$ignore" --show-missing-lines >target/line-coverage.txt
python3 - <<'PYTHON'
import json
lines = json.load(open("target/line-coverage.json"))["data"][0]["totals"]["lines"]
print(f"figure line_coverage_percent {lines['percent']:.1f} percent")
PYTHON
