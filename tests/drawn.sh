#!/usr/bin/env bash
# Drawings of N made-up networks of 5 to 150 elements and of N made-up houses (300), held to the drawing's own audit, its
# bounds and its joints,
# then judged from outside (tests/judged.sh), which takes an hour or two for 300: light, dark, and in a serif face.
#   tests/drawn.sh [N] [FOLDER]
# The judge runs where the folder of outside checkers is at hand (PIPECARRY_TOOLS, else ../shared/tools); otherwise that
# part prints 'skipped'. PIPECARRY_JUDGED=FILE keeps there which sheets passed, so that a second run judges only what changed.
set -euo pipefail
cd "$(dirname "$0")/.."
count=${1:-300}
work=${2:-$(mktemp -d)}
mkdir -p "$work/svg"
rm -f "$work"/svg/*.svg
PIPECARRY_CASES="$count" PIPECARRY_DRAW_TO="$work/svg" cargo test -q --test it drawing_random:: -- --nocapture | tail -n 3
bash tests/judged.sh "$work/judged" "$work"/svg/*.svg
