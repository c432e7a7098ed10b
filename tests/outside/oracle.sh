# To be sourced from the project's root, with the name of what is to run: finds the independent solver and a Python that
# has its libraries, or says 'skipped' and ends. Leaves `tools`, `python` and a folder `work` that goes when the script ends.
# The checkers' folder is PIPECARRY_TOOLS, else ../shared/tools; PIPECARRY_PYTHON may name a Python that has the libraries.
tools=${PIPECARRY_TOOLS:-../shared/tools}
if [ ! -f "$tools/oracle/network.py" ]; then echo "$1: skipped (no outside checkers at hand)"; exit 0; fi
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
python=${PIPECARRY_PYTHON:-}
if [ -z "$python" ]; then
    python=python3
    if ! "$python" -c 'import numpy, scipy, fluids, CoolProp, iapws, mpmath' 2>/dev/null; then
        "$python" -m venv "$work/venv" && "$work/venv/bin/pip" install -q -r "$tools/oracle/requirements.txt" >"$work/pip.log" 2>&1 \
            || { echo "$1: skipped (Python libraries of the checker not at hand)"; exit 0; }
        python="$work/venv/bin/python"
    fi
fi
export PYTHONDONTWRITEBYTECODE=1
