#!/usr/bin/env bash
# Differential test: N seeded random networks of every kind against an independent solver.
#   tests/differential.sh [N] [SEED]
# Runs where the folder of outside checkers is at hand (PIPECARRY_TOOLS, else ../shared/tools) and its Python libraries can
# be had; prints 'skipped' otherwise. PIPECARRY_PYTHON may name a Python that has them.
set -euo pipefail
cd "$(dirname "$0")/.."
count=${1:-50} seed=${2:-1}
tools=${PIPECARRY_TOOLS:-../shared/tools}
if [ ! -f "$tools/oracle/network.py" ]; then echo "differential test: skipped (no outside checkers at hand)"; exit 0; fi
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
python=${PIPECARRY_PYTHON:-}
if [ -z "$python" ]; then
    python=python3
    if ! "$python" -c 'import numpy, scipy, fluids, CoolProp, iapws, mpmath' 2>/dev/null; then
        "$python" -m venv "$work/venv" && "$work/venv/bin/pip" install -q -r "$tools/oracle/requirements.txt" >"$work/pip.log" 2>&1 \
            || { echo "differential test: skipped (Python libraries of the checker not at hand)"; exit 0; }
        python="$work/venv/bin/python"
    fi
fi
PYTHONDONTWRITEBYTECODE=1 "$python" tests/differential.py "$tools" "$work" --count "$count" --seed "$seed"
PIPECARRY_REFERENCE="$work" cargo test -q --test it oracle:: -- --nocapture | grep -vE '^(running|$)' | tail -n 25
