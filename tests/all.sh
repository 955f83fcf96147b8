#!/usr/bin/env bash
# Every test, with branch coverage of the whole package, on all cores.
set -euo pipefail
cd "$(dirname "$0")/.."
python -m pytest -n auto --dist worksteal --cov --cov-report=term --cov-fail-under=95 "$@"
