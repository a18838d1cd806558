# shellcheck shell=bash
# Sourced by install.sh: what sensors on wires need, where --wired asked for it once.

wired_changed='' # set once something was changed that their service takes up at a start only

check_wires() {
    [ ! -e "$wired_unit" ] || with_wired=yes
    [ -n "$with_wired" ] && [ -z "$root" ] || return 0
    getent group i2c >/dev/null ||
        stop "The group i2c, who may use the wires, is missing: sudo apt install i2c-tools"
}

# What pip is asked for beside the program itself.
extras() {
    printf 'images,postgres%s' "${with_wired:+,scd30,scd4x,sht4x}"
}

# They enter the broker as a user of their own, whose password nobody needs to know.
make_wired_password() {
    local work password
    password=$(random_password)
    work=$(mktemp -d -p "$scratch")
    (umask 077 && printf 'wired:%s\n' "$password" >"$work/wired" && printf '%s' "$password" >"$work/plain")
    mosquitto_passwd -U "$work/wired"
    (umask 077 && { grep -v '^wired:' "$broker_passwords" || true; } | cat - "$work/wired" >"$work/all")
    # Broken off half-way, one of the two is missing, and both are made anew.
    rm -f "$secrets/wired_password"
    give 0600 mosquitto:mosquitto "$work/all" "$broker_passwords"
    give 0600 root:root "$work/plain" "$secrets/wired_password"
}

install_wired_password() {
    if [ -z "$with_wired" ]; then
        return
    elif [ -z "$with_broker" ]; then
        [ -e "$secrets/wired_password" ] ||
            act "Making an empty $secrets/wired_password: put the password of your wired sensors into it." \
                give 0600 root:root /dev/null "$secrets/wired_password"
    elif [ ! -e "$secrets/wired_password" ] || ! grep -qs '^wired:' "$broker_passwords"; then
        broker_changed=yes wired_changed=yes
        act "Making a password for sensors on wires: $secrets/wired_password" make_wired_password
    else
        mend_rights 0600 root:root "$secrets/wired_password"
    fi
}

install_wired() {
    local shipped=$checkout/deploy/chamberwatch-wired.service
    [ -n "$with_wired" ] || return 0
    if ! is_there 0644 root:root "$shipped" "$wired_unit"; then
        wired_changed=yes
        act "Installing the service: $wired_unit" give 0644 root:root "$shipped" "$wired_unit"
    fi
    if systemd_runs && { [ -n "$anything$wired_changed" ] || ! ctl --quiet is-enabled chamberwatch-wired; }; then
        act "Starting chamberwatch-wired, at every boot too." start_wired
    fi
}

# Without a [[wired]] in the settings there is nothing to start yet.
start_wired() {
    ctl daemon-reload
    ctl enable --quiet chamberwatch-wired
    grep -qs '^\[\[wired\]\]' "$state/chamberwatch.toml" || return 0
    ctl restart chamberwatch-wired ||
        printf "  chamberwatch-wired does not start: 'journalctl -u chamberwatch-wired -n 30' says why.\n"
}

say_next_of_wires() {
    [ -n "$with_wired" ] || return 0
    cat <<END
  the wires  sudo chamberwatch wired --look, then [[wired]] in the settings and
             sudo systemctl restart chamberwatch-wired
END
    if [ -n "$with_broker" ] && ! grep -qs '^wired_username' "$state/chamberwatch.toml"; then
        printf '             and below [mqtt] in the settings: wired_username = "wired"\n'
    fi
}

remove_wired() {
    [ -e "$wired_unit" ] || return 0
    ! systemd_runs ||
        act "Stopping chamberwatch-wired." ctl disable --quiet --now chamberwatch-wired
    act "Removing the service: $wired_unit" rm -f "$wired_unit"
}
