#!/usr/bin/env bash
# Every state of shut valves of several houses against an independent solver.
#   tests/shut_states.sh [STATES A HOUSE] [SECONDS]
# Without arguments all states of houses that have up to 256, 40 seconds at most; `tests/shut_states.sh 65536 3600` is the
# long run. Runs where the folder of outside checkers is at hand (PIPECARRY_TOOLS, else ../shared/tools) and its Python
# libraries can be had; prints 'skipped' otherwise. PIPECARRY_PYTHON may name a Python that has them.
set -euo pipefail
cd "$(dirname "$0")/.."
each=${1:-256} seconds=${2:-40}
tools=${PIPECARRY_TOOLS:-../shared/tools}
if [ ! -f "$tools/oracle/network.py" ]; then echo "states of shut valves: skipped (no outside checkers at hand)"; exit 0; fi
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
python=${PIPECARRY_PYTHON:-}
if [ -z "$python" ]; then
    python=python3
    if ! "$python" -c 'import numpy, scipy, fluids, CoolProp, iapws, mpmath' 2>/dev/null; then
        "$python" -m venv "$work/venv" && "$work/venv/bin/pip" install -q -r "$tools/oracle/requirements.txt" >"$work/pip.log" 2>&1 \
            || { echo "states of shut valves: skipped (Python libraries of the checker not at hand)"; exit 0; }
        python="$work/venv/bin/python"
    fi
fi
mkdir "$work/states"
PIPECARRY_WRITE_STATES="$work/states" PIPECARRY_STATES_EACH="$each" cargo test --quiet --test it shut_outside:: >"$work/log" 2>&1 \
    || { cat "$work/log"; exit 1; }
PYTHONDONTWRITEBYTECODE=1 PIPECARRY_TOOLS="$tools" "$python" tests/outside/states.py "$work/states" "$seconds"
