#!/usr/bin/env bash
# Differential test: N seeded random networks of every kind against an independent solver.
#   tests/differential.sh [N] [SEED]
# Runs where the folder of outside checkers is at hand (PIPECARRY_TOOLS, else ../shared/tools) and its Python libraries can
# be had; prints 'skipped' otherwise. PIPECARRY_PYTHON may name a Python that has them.
set -euo pipefail
cd "$(dirname "$0")/.."
count=${1:-50} seed=${2:-1}
. tests/outside/oracle.sh "differential test"
"$python" tests/differential.py "$tools" "$work" --count "$count" --seed "$seed"
PIPECARRY_REFERENCE="$work" cargo test -q --test it oracle:: -- --nocapture | grep -vE '^(running|$)' | tail -n 25
