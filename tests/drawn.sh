#!/usr/bin/env bash
# Drawings of N made-up networks of 5 to 150 elements (300), held to the drawing's own audit and to its joints, then
# judged from outside in a browser, light and dark and with a serif face instead of the sheet's own: A4 sheets as A4, A3 as A3.
#   tests/drawn.sh [N]
# The judge runs where the folder of outside checkers is at hand (PIPECARRY_TOOLS, else ../shared/tools); otherwise that
# part prints 'skipped'.
set -euo pipefail
cd "$(dirname "$0")/.."
count=${1:-300}
tools=${PIPECARRY_TOOLS:-../shared/tools}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
mkdir "$work/svg"
PIPECARRY_CASES="$count" PIPECARRY_DRAW_TO="$work/svg" cargo test -q --test it drawing::made_up -- --nocapture | tail -n 3
if [ ! -x "$tools/svgjudge/run.sh" ]; then echo "made-up drawings: not judged from outside, skipped"; exit 0; fi
missed=0
for sheet in a4:297 a3:420; do
    mapfile -t drawings < <(grep -lE "<svg [^>]*width=\"${sheet#*:}mm\"" "$work"/svg/*.svg)
    [ ${#drawings[@]} -eq 0 ] && continue
    for look in "" "--scheme dark" "--font Liberation\ Serif"; do
        eval "look=($look)"
        "$tools/svgjudge/run.sh" "${drawings[@]}" --preset "${sheet%:*}" --out "$work/judged" --json "$work/judged.json" \
            --quiet "${look[@]}" >"$work/said" || missed=$((missed + $(grep -c '^FAIL' "$work/said")))
        grep '^FAIL' "$work/said" | head -n 20 || true
        echo "${#drawings[@]} sheets ${sheet%:*} ${look[*]}: $(grep -c '^PASS' "$work/said") pass"
    done
done
[ "$missed" -eq 0 ] || { echo "$missed sheets miss a bound"; exit 1; }
