# shellcheck shell=bash
# Sourced by install.sh: the program. Each version has an environment of its own below
# /opt/chamberwatch/versions, and /opt/chamberwatch/venv is a link to the one that is in use. The
# name of a version ends in a print of all that went into it, so the same one is made only once.

needed_mb=450

# What makes one installation differ from another. The script of the charts is fetched while it is
# built; the lock file stands for it.
print_of_program() {
    {
        if [ -n "$wheel" ]; then
            sha256sum <"$wheel"
        else
            (cd "$checkout" && find chamberwatch -type f ! -name '*.py[co]' ! -path '*/vendor/*' -print0 |
                sort -z | xargs -0 sha256sum pyproject.toml deploy/web/package-lock.json)
        fi
        printf '%s\n' "${CHAMBERWATCH_WITHOUT_CHARTS-}" "$(extras)"
        cat "$checkout/deploy/constraints.txt"
        python3 -c 'import sys; print(sys.version, sys.executable)'
    } | sha256sum | cut -c 1-10
}

name_of_program() {
    local version
    if [ -n "$wheel" ]; then
        version=$(basename "$wheel" | cut -d - -f 2)
    else
        version=$(sed -n 's/^version = "\(.*\)"/\1/p' "$checkout/pyproject.toml" | head -n 1)
    fi
    printf '%s-%s\n' "$version" "$(print_of_program)"
}

# Sets `release` to the folder of the new version, and `former` to that of the one it replaces;
# empty if there is none, or it is the same.
install_program() {
    release=$program/versions/$(name_of_program)
    accept_what_works
    find_former
    if [ -e "$release/complete" ] && "$release/bin/python" -c '' 2>/dev/null; then
        [ -n "$former" ] || printf 'The program stays as it is: %s\n' "$(basename "$release")"
    else
        act "Installing the program: $release (a few minutes on a Pi)" make_program
    fi
}

# An upgrade that was broken off after the switch, and whose version has started since and is at
# work: it is done. To go back behind it later would cost what was kept since.
accept_what_works() {
    local now
    [ -e "$program/upgrading-from" ] && [ -L "$program/venv" ] && [ -z "$dry_run" ] || return 0
    now=$program/versions/$(basename "$(readlink "$program/venv")")
    if [ -e "$now/complete" ] && [ "$(basename "$now")" != "$(cat "$program/upgrading-from")" ] &&
        systemd_runs && ctl --quiet is-active chamberwatch; then
        printf 'The upgrade that was broken off is at work, and is kept: %s\n' "$(basename "$now")"
        rm -f "$program/upgrading-from" "$program/unit-before" "$program/database-before"
        sync "$program"
    fi
}

# What an upgrade that was broken off has noted is what it would have gone back to.
find_former() {
    former=''
    if [ -d "$program/venv" ] && [ ! -L "$program/venv" ]; then
        former=$program/versions/former # installed before versions stood side by side
    elif [ -e "$program/upgrading-from" ]; then
        former=$program/versions/$(cat "$program/upgrading-from")
        [ -d "$former" ] || former=''
    elif [ -L "$program/venv" ]; then
        former=$program/versions/$(basename "$(readlink "$program/venv")")
    fi
    [ "$former" != "$release" ] || former=''
}

check_space() {
    local free_mb
    free_mb=$(df -Pm "$program" | tail -n 1 | tr -s ' ' | cut -d ' ' -f 4)
    [ "$free_mb" -ge "$needed_mb" ] ||
        stop "Only $free_mb MB are free on the disk of $program, and the installation needs $needed_mb MB: free some (df -h, sudo apt clean) and run this again. What runs goes on as it is."
}

make_program() {
    local log=$program/install.log what=${wheel:-$checkout} find_links=()
    check_space
    [ -z "$wheel" ] || find_links=(--find-links "$(dirname "$wheel")")
    rm -rf "$release" # one that was broken off
    mkdir -p "$program/tmp" "$program/versions"
    python3 -m venv --clear "$release" >"$log" 2>&1 ||
        stop "The Python environment could not be made in $release: free some disk space (df -h) and run this again (details: $log)."
    # /tmp is often a small memory disk; the packages are unpacked beside the environment instead.
    TMPDIR=$program/tmp "$release/bin/python" -m pip install --no-input --no-cache-dir \
        --disable-pip-version-check "${find_links[@]}" \
        --constraint "$checkout/deploy/constraints.txt" "${what}[$(extras)]" >"$log" 2>&1 ||
        stop "The program could not be installed: see that the internet is reachable and $needed_mb MB are free, then run this again (details: $log). What ran before goes on as it is."
    rm -rf "$program/tmp" "$log"
    "$release/bin/chamberwatch" --version >/dev/null 2>&1 ||
        stop "The new program does not run: '$release/bin/chamberwatch --version' says why. What ran before goes on as it is."
    # All of it on the disk before it is taken for whole.
    sync --file-system "$release"
    touch "$release/complete"
    sync "$release/complete" "$release"
}

# Lets the link lead to a version: one step, which a power cut can't halve.
use() {
    if [ -d "$program/venv" ] && [ ! -L "$program/venv" ]; then
        mv -T "$program/venv" "$program/versions/former"
    fi
    if ! { ln -sfn "versions/$(basename "$1")" "$program/venv.new" &&
        mv -T "$program/venv.new" "$program/venv" && sync "$program"; }; then
        stop "$program/venv could not be written: see that the disk is not full (df -h) and can be written to, then run this again."
    fi
}

is_in_use() {
    [ "$(readlink "$program/venv" 2>/dev/null)" = "versions/$(basename "$1")" ]
}

other_versions_stand() {
    local each
    for each in "$program"/versions/*; do
        [ "$each" = "$release" ] || return 0
    done
    return 1
}

# Once the new version is at work nothing leads to the others.
forget_other_versions() {
    local each
    rm -f "$program/upgrading-from"
    for each in "$program"/versions/*; do
        [ "$each" = "$release" ] || rm -rf "$each"
    done
    sync "$program"
}

# ---------------------------------------------------------------- the command

is_our_command() {
    [ -f "$command" ] && grep -qs 'deploy/install.sh' "$command"
}

install_command() {
    if [ -e "$command" ] && ! is_our_command; then
        printf '%s is not of this script and stays as it is. The command is %s.\n' \
            "$command" "$program/venv/bin/chamberwatch --config $state/chamberwatch.toml"
        return
    fi
    put 0755 root:root "$checkout/deploy/command" "$command" "Installing the command: $command"
}

remove_command() {
    ! is_our_command || act "Removing the command: $command" rm -f "$command"
}
