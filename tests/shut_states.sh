#!/usr/bin/env bash
# Every state of shut valves of several houses against an independent solver.
#   tests/shut_states.sh [STATES A HOUSE] [SECONDS]
# Without arguments all states of houses that have up to 256, 40 seconds at most; `tests/shut_states.sh 65536 3600` is the
# long run. Runs where the folder of outside checkers is at hand (PIPECARRY_TOOLS, else ../shared/tools) and its Python
# libraries can be had; prints 'skipped' otherwise. PIPECARRY_PYTHON may name a Python that has them.
set -euo pipefail
cd "$(dirname "$0")/.."
each=${1:-256} seconds=${2:-40}
. tests/outside/oracle.sh "states of shut valves"
mkdir "$work/states"
PIPECARRY_WRITE_STATES="$work/states" PIPECARRY_STATES_EACH="$each" cargo test --quiet --test it shut_outside:: >"$work/log" 2>&1 \
    || { cat "$work/log"; exit 1; }
PIPECARRY_TOOLS="$tools" "$python" tests/outside/states.py "$work/states" "$seconds"
