#!/usr/bin/env bash
# How many times faster than a plain scipy solver on the same machine, both measured in one run; each figure is the best of
# several, since other work disturbs a machine. Then the peak memory of a district of 1e5 elements.
#   tests/speed_ratio.sh [ROUNDS]
# Runs where the folder of outside checkers is at hand (PIPECARRY_TOOLS, else ../shared/tools); prints 'skipped' otherwise.
# PIPECARRY_PYTHON may name a Python that has their libraries.
set -euo pipefail
cd "$(dirname "$0")/.."
rounds=${1:-2}
tools=${PIPECARRY_TOOLS:-../shared/tools}
if [ ! -f "$tools/oracle/peer_speed.py" ]; then echo "speed ratios: skipped (no outside checkers at hand)"; exit 0; fi
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
python=${PIPECARRY_PYTHON:-}
if [ -z "$python" ]; then
    python=python3
    if ! "$python" -c 'import numpy, scipy, fluids, CoolProp, iapws, mpmath' 2>/dev/null; then
        "$python" -m venv "$work/venv" && "$work/venv/bin/pip" install -q -r "$tools/oracle/requirements.txt" >"$work/pip.log" 2>&1 \
            || { echo "speed ratios: skipped (Python libraries of the checker not at hand)"; exit 0; }
        python="$work/venv/bin/python"
    fi
fi
[ -n "${PIPECARRY_SPEED:-}" ] || cargo build -q --release --example speed
program=${PIPECARRY_SPEED:-${CARGO_TARGET_DIR:-target}/release/examples/speed}
export PYTHONDONTWRITEBYTECODE=1
houses=tests/data/speed_networks
for kind in tree looped; do
    for elements in 1000 10000 100000; do
        "$python" "$tools/oracle/district.py" --elements "$elements" --kind "$kind" --out "$work/${kind}_$elements.json" >/dev/null
    done
done
"$python" tests/speed_ratio.py "$tools/oracle/peer_speed.py" "$program" "$houses" "$work" "$rounds"
