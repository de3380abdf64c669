# Sourced by the tools: finds a Python, makes a virtual environment in the project and installs into it. Doing it again is
# harmless and quick: an environment is only installed into when pyproject.toml, the version, the extra or the Python has changed.

set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
cd "$root"
export PIP_DISABLE_PIP_VERSION_CHECK=1

say() { printf '%s\n' "$*" >&2; }

# The first Python that is new enough, or the plain truth about what is missing.
find_python() {
    local candidate
    for candidate in "${PYTHON:-}" python3 python3.14 python3.13 python3.12 python3.11 python; do
        if [ -n "$candidate" ] && command -v "$candidate" >/dev/null 2>&1 &&
            "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
            command -v "$candidate"
            return
        fi
    done
    if command -v python3 >/dev/null 2>&1; then
        say "vdpsim needs Python 3.11 or newer; $(command -v python3) is $(python3 --version 2>&1)."
    else
        say "vdpsim needs Python 3.11 or newer, and there is no python3 here."
    fi
    say "On Debian or Ubuntu: apt-get install python3 python3-venv. Or name another one: PYTHON=/path/to/python $0"
    return 1
}

# make_venv DIR: a virtual environment at DIR where there is none that works.
make_venv() {
    local python
    if [ -x "$1/bin/python" ] && "$1/bin/python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
        return
    fi
    python=$(find_python)
    if ! "$python" -c 'import venv, ensurepip' 2>/dev/null; then
        say "$python has no venv module. On Debian or Ubuntu: apt-get install python3-venv"
        return 1
    fi
    say "Making a virtual environment in $1 with $("$python" --version 2>&1)."
    "$python" -m venv "$1"
}

# install DIR WHAT...: pip install WHAT into the environment DIR, once.
install() {
    local venv=$1 stamp state
    shift
    stamp="$venv/.set-up-$(printf '%s' "$*" | tr -c 'a-z0-9\n' '-')"
    state=$("$venv/bin/python" -c 'import hashlib, sys; print(hashlib.sha256(b"".join(open(name, "rb").read() for name in ("pyproject.toml", "vdpsim/version.py"))).hexdigest(), sys.version)')
    if [ -f "$stamp" ] && [ "$(cat "$stamp")" = "$state" ]; then
        return
    fi
    say "Installing into $venv: $*"
    if ! "$venv/bin/python" -m pip install --quiet "$@"; then
        say "pip could not install $*: is there a way to PyPI or to your own package index?"
        return 1
    fi
    printf '%s\n' "$state" >"$stamp"
}
