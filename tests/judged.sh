#!/usr/bin/env bash
# Schematics judged in a browser by the outside checker: as they are, in the dark, and with a serif face in place of the
# sheet's own; and that it sees just as many pipes as the drawing says it drew.
#   tests/judged.sh FOLDER FILE.svg…      screenshots and results go to FOLDER
# The checker's folder is PIPECARRY_TOOLS, else ../shared/tools; without it this prints 'skipped'. What the sheets are held
# to stands in tests/outside/drawings.py.
set -euo pipefail
judge=${PIPECARRY_TOOLS:-../shared/tools}/svgjudge/run.sh
if [ ! -x "$judge" ] || ! command -v python3 >/dev/null; then echo "skipped: no outside checkers at hand"; exit 0; fi
python3 "$(dirname "$0")/outside/drawings.py" "$judge" "$@"
