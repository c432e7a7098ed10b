#!/usr/bin/env bash
# Schematics judged in a browser by the outside checker: as they are, in the dark, and with a serif face in place of the
# sheet's own; and that it sees just as many pipes as the drawing says it drew.
#   tests/judged.sh FOLDER FILE.svg…      screenshots and results go to FOLDER
# The checker's folder is PIPECARRY_TOOLS, else ../shared/tools; without it this prints 'skipped'.
set -euo pipefail
judge=${PIPECARRY_TOOLS:-../shared/tools}/svgjudge/run.sh
if [ ! -x "$judge" ]; then echo "skipped: no outside checkers at hand"; exit 0; fi
to=$1
shift
judged=0
for sheet in a4:297 a3:420; do
    mapfile -t drawings < <(grep -lE "<svg [^>]*width=\"${sheet#*:}mm\"" "$@")
    [ ${#drawings[@]} -eq 0 ] && continue
    judged=$((judged + ${#drawings[@]}))
    for look in "" "--scheme=dark" "--font=Liberation Serif"; do
        # shellcheck disable=SC2086 # without a look there is no word at all
        "$judge" "${drawings[@]}" --preset "${sheet%:*}" --out "$to" --json "$to.json" --quiet ${look:+"${look%%=*}" "${look#*=}"}
        python3 - "$to.json" "${drawings[@]}" <<'PYTHON'
import json, os, re, sys

drawings = {os.path.basename(path): path for path in sys.argv[2:]}
off = 0
for one in json.load(open(sys.argv[1])):
    drawn = int(re.search(r"<metadata>.*?; pipes (\d+)", open(drawings[one["file"]]).read()).group(1))
    if one["pipes"] != drawn:
        off += 1
        print(f"{one['file']}: {drawn} pipes drawn, {one['pipes']} seen")
sys.exit(1 if off else 0)
PYTHON
    done
done
[ "$judged" = $# ] || { echo "$(($# - judged)) of $# schematics are of neither size, so nobody judged them"; exit 1; }
echo "$judged schematics judged in three looks, every pipe seen"
