# shellcheck shell=bash
# Sourced by install.sh: files with their owners and rights, each whole or not there at all,
# whatever a power cut interrupts. Below --root there are no owners.

# has_rights MODE OWNER PATH
has_rights() {
    local now
    now=$(stat -c '%a %U:%G' "$3")
    [ "${now%% *}" = "${1#0}" ] && { [ -n "$root" ] || [ "${now#* }" = "$2" ]; }
}

# is_there MODE OWNER SOURCE DESTINATION: tells whether it is as `give` would make it.
is_there() {
    [ -f "$4" ] && cmp -s "$3" "$4" && has_rights "$1" "$2" "$4"
}

# give MODE OWNER SOURCE DESTINATION
give() {
    local owner=(-o "${2%:*}" -g "${2#*:}")
    [ -z "$root" ] || owner=()
    if ! { install -D -m "$1" "${owner[@]}" "$3" "$4.part" && sync "$4.part" && mv -T "$4.part" "$4" &&
        sync "$(dirname "$4")"; }; then
        stop "$4 could not be written: see that the disk is not full (df -h) and can be written to, then run this again."
    fi
}

# put MODE OWNER SOURCE DESTINATION WORDS: gives it, and says so, if it isn't there as it should be.
put() {
    is_there "${@:1:4}" || act "$5" give "${@:1:4}"
}

# folder MODE OWNER PATH
folder() {
    local owner=(-o "${2%:*}" -g "${2#*:}")
    [ -z "$root" ] || owner=()
    install -d -m "$1" "${owner[@]}" "$3"
}

# lay_folder MODE OWNER PATH WORDS
lay_folder() {
    { [ -d "$3" ] && has_rights "$1" "$2" "$3"; } || act "$4" folder "$1" "$2" "$3"
}

# mend_rights MODE OWNER PATH: of a file that is yours, whose content is no business of ours.
mend_rights() {
    has_rights "$1" "$2" "$3" || act "Setting who may read and write $3 ($2, $1)." set_rights "$@"
}

set_rights() {
    [ -n "$root" ] || chown "$2" "$3"
    chmod "$1" "$3"
}
