# shellcheck shell=bash
# Sourced by demo and test: keeps the checkout's own Python environment, .venv, up to date.
#
# prepare_venv EXTRA...  installs chamberwatch (editable, so that what is in the checkout is what
# runs) with the first EXTRA. Nothing is done when an environment made with any of the named
# extras is still current: same pyproject.toml, same constraints, same deploy/web, same Python,
# same place.

checkout=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd -P)
venv=$checkout/.venv

stop() {
    printf '%s\n' "$1" >&2
    exit 1
}

find_python() {
    local candidate found=
    for candidate in python3 python3.14 python3.13 python3.12 python3.11; do
        command -v "$candidate" >/dev/null || continue
        found=yes
        "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null || continue
        python=$(command -v "$candidate")
        return
    done
    if [ -n "$found" ]; then
        stop "Python here is $(python3 -V 2>&1 | cut -d' ' -f2), but 3.11 or newer is needed: use Debian 12, Raspberry Pi OS Bookworm or anything later."
    fi
    stop "Python 3 was not found: install it with 'sudo apt install python3 python3-venv' and run this again."
}

fingerprint() {
    {
        cat "$checkout/pyproject.toml" "$checkout/deploy/constraints.txt" "$checkout"/deploy/web/*.*
        "$python" -c 'import sys; print(sys.version, sys.executable)'
        printf '%s\n' "$checkout"
    } | sha256sum | cut -d' ' -f1
}

is_current() {
    local extra
    "$venv/bin/python" -c '' 2>/dev/null || return 1
    for extra in "$@"; do
        [ "$(cat "$venv/made-with-$extra" 2>/dev/null)" = "$print" ] && return
    done
    return 1
}

# Say in one line why pip failed, and what to do.
explain() {
    local log=$1
    if grep -qi 'no space left on device' "$log"; then
        stop "The disk is full, so the installation stopped: free about 500 MB and run this again (details: $log)."
    fi
    if grep -qiE 'name resolution|name or service not known|network is unreachable|newconnectionerror|connection refused|timed out|connecttimeout|proxyerror|npm could not reach' "$log"; then
        stop "The internet could not be reached to install what chamberwatch needs: connect this machine and run this again (details: $log)."
    fi
    stop "The installation failed: its last lines say why; mend that and run this again (log: $log)."
}

install() {
    local extra=$1 log=$venv/install.log
    if ! "$python" -c 'import ensurepip, venv' 2>/dev/null; then
        stop "Python's venv module is missing: install it with 'sudo apt install python3-venv' and run this again."
    fi
    if [ ! -w "$checkout" ]; then
        stop "This folder can't be written to, and .venv is made in it: copy the checkout to a folder of yours and run this again."
    fi
    printf 'Installing into .venv, once; a few minutes on a Raspberry Pi ...\n' >&2
    rm -f "$venv"/made-with-*
    if ! "$venv/bin/python" -m pip --version >/dev/null 2>&1; then
        "$python" -m venv --clear "$venv" >/dev/null 2>&1 ||
            stop "The Python environment could not be made: see whether the disk is full (df -h .), then remove .venv and run this again."
    fi
    # /tmp is often a small memory disk; the packages are unpacked beside the environment instead.
    mkdir -p "$venv/tmp"
    TMPDIR=$venv/tmp "$venv/bin/python" -m pip install --no-input --disable-pip-version-check \
        --constraint "$checkout/deploy/constraints.txt" --editable "${checkout}[$extra]" \
        >"$log" 2>&1 || explain "$log"
    rm -rf "$venv/tmp" "$log"
    printf '%s\n' "$print" >"$venv/made-with-$extra"
}

prepare_venv() {
    local print python
    find_python
    print=$(fingerprint)
    if is_current "$@"; then
        return
    fi
    # Two at once would spoil each other's work: the second waits, then finds it done.
    exec 9<"$checkout/pyproject.toml"
    flock 9
    is_current "$@" || install "$1"
    exec 9<&-
}
