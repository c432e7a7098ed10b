#!/usr/bin/env bash
# Instructions of one cold solve of each house, which do not depend on the machine's mood: callgrind over 1 and over 101
# solves; the difference is a hundred of them. Prints 'skipped' without valgrind.
set -euo pipefail
cd "$(dirname "$0")/.."
command -v valgrind >/dev/null || { echo "instruction counts: skipped (no valgrind)"; exit 0; }
cargo build -q --release --example speed
program=${CARGO_TARGET_DIR:-target}/release/examples/speed
count() {
    valgrind --tool=callgrind --callgrind-out-file=/dev/null "$program" "--repeat=$1" "$2" 2>&1 \
        | sed -n 's/.*Collected : //p'
}
for house in house_8 house_12 house_28; do
    file=tests/data/speed_networks/$house.json
    one=$(count 1 "$file") many=$(count 101 "$file")
    echo "$house: $(((many - one) / 100)) instructions a solve"
done
