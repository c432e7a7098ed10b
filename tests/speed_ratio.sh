#!/usr/bin/env bash
# How many times faster than a plain scipy solver on the same machine, both measured in one run; each figure is the best of
# several, since other work disturbs a machine. Then the peak memory of a district of 1e5 elements.
#   tests/speed_ratio.sh [ROUNDS]
# Runs where the folder of outside checkers is at hand (PIPECARRY_TOOLS, else ../shared/tools); prints 'skipped' otherwise.
# PIPECARRY_PYTHON may name a Python that has their libraries.
set -euo pipefail
cd "$(dirname "$0")/.."
rounds=${1:-2}
. tests/outside/oracle.sh "speed ratios"
[ -n "${PIPECARRY_SPEED:-}" ] || cargo build -q --release --example speed
program=${PIPECARRY_SPEED:-${CARGO_TARGET_DIR:-target}/release/examples/speed}
houses=tests/data/speed_networks
for kind in tree looped; do
    for elements in 1000 10000 100000; do
        "$python" "$tools/oracle/district.py" --elements "$elements" --kind "$kind" --out "$work/${kind}_$elements.json" >/dev/null
    done
done
"$python" tests/speed_ratio.py "$tools/oracle/peer_speed.py" "$program" "$houses" "$work" "$rounds"
