#!/usr/bin/env bash
# Opens documents in a real browser: wide, 360 px, dark, printed to PDF. Nothing may stick out, nothing may be said on
# the browser's console. Usage: tests/pages.sh PROGRAM FOLDER; says `skipped` where no browser is at hand.
set -euo pipefail
cd "$(dirname "$0")/.."
program=${1:-target/debug/pipecarry}
folder=${2:-$(mktemp -d)}
browser=$(command -v chromium || command -v chromium-browser || true)
if [ -z "$browser" ] && [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
    apt-get install -y -q chromium >/dev/null 2>&1 || true
    browser=$(command -v chromium || true)
fi
if [ -z "$browser" ] || ! command -v python3 >/dev/null; then
    echo "skipped: no browser at hand"
    exit 0
fi
mkdir -p "$folder"
for house in larch hyssop bracken burdock; do
    for reader in client reviewer; do
        "$program" report "networks/$house.toml" --for "$reader" -o "$folder/$house-$reader.html" --force || [ $? = 1 ]
    done
done
python3 tests/pages.py "$browser" "$folder"/*-client.html "$folder"/*-reviewer.html
