# shellcheck shell=bash
# Sourced by install.sh: the account, the settings, the service, and how an upgrade is taken back.

must_start='' # set once something was changed that holds only after a start
stopped='' # while the service stands still for an upgrade
probation_s=5

systemd_runs() {
    [ -d "$root/run/systemd/system" ]
}

ctl() {
    systemctl ${root:+--root="$root"} "$@"
}

# Runs a command as the service does. The checkout may lie where only you can read.
as_service() {
    if [ -n "$root" ]; then
        "$@"
    else
        (cd / && runuser -u chamberwatch -- "$@")
    fi
}

add_user() {
    if [ -n "$root" ] || id chamberwatch >/dev/null 2>&1; then
        return
    fi
    act "Adding the system user chamberwatch." \
        useradd --system --user-group --home-dir "$state" --no-create-home \
        --shell /usr/sbin/nologin chamberwatch
}

# The shipped settings, fitted to the broker as it is set up here: who we are there, and that it
# hands out many messages before it waits for us.
settings_to_start_from() {
    local source=$checkout/config/chamberwatch.toml work
    work=$(mktemp -p "$scratch")
    if [ -n "$with_broker" ]; then
        sed -e 's/^# \(username = "chamberwatch"\)/\1/' -e 's/^window = 15 /window = 500/' \
            ${with_wired:+-e 's/^# \(wired_username = "wired"\)/\1/'} "$source" >"$work"
    else
        cat "$source" >"$work"
    fi
    give 0640 chamberwatch:chamberwatch "$work" "$state/chamberwatch.toml"
}

install_settings() {
    if [ -e "$state/chamberwatch.toml" ]; then
        printf 'Your settings stay as they are: %s\n' "$state/chamberwatch.toml"
        # The pages change them, so they must belong to the service.
        mend_rights 0640 chamberwatch:chamberwatch "$state/chamberwatch.toml"
    else
        act "Putting settings to start from: $state/chamberwatch.toml" settings_to_start_from
    fi
}

# Asks the new version what it makes of the settings, before anything that runs is touched.
prove_settings() {
    local said
    if [ -n "$dry_run" ] || is_proven; then
        return
    fi
    said=$(as_service "$release/bin/chamberwatch" check --config "$state/chamberwatch.toml" 2>&1) ||
        stop "$said
$(basename "$release") does not take your settings as they are; nothing was changed, and what ran before goes on. Mend them (sudo nano $state/chamberwatch.toml) and run this again."
}

is_proven() {
    is_in_use "$release" && [ ! -e "$program/upgrading-from" ]
}

# ---------------------------------------------------------------- the service

run_program() {
    local shipped=$checkout/deploy/chamberwatch.service
    if ! is_proven || ! is_there 0644 root:root "$shipped" "$unit"; then
        act "Going over to $(basename "$release")." go_over
    elif systemd_runs && { [ -n "$must_start" ] || ! ctl --quiet is-active chamberwatch; }; then
        act "Starting chamberwatch, now and at every boot." start_service ||
            stop "chamberwatch does not start: 'journalctl -u chamberwatch -n 30' says why; mend it and run 'sudo systemctl restart chamberwatch'."
    fi
    # A run that was broken off at its very end left them.
    if is_proven && other_versions_stand; then
        act "Taking away versions that are not used any more." forget_other_versions
    fi
}

# What is needed to go back is noted before each step, so that a run after a power cut can too:
# upgrading-from (a version), unit-before (the service), database-before (where its copy lies).
go_over() {
    [ -z "$former" ] || note upgrading-from "$(basename "$former")"
    [ ! -e "$unit" ] || [ -e "$program/unit-before" ] || give 0644 root:root "$unit" "$program/unit-before"
    if systemd_runs && ctl --quiet is-active chamberwatch; then
        stopped=yes
        ctl stop chamberwatch
    fi
    keep_database
    use "$release"
    give 0644 root:root "$checkout/deploy/chamberwatch.service" "$unit"
    if systemd_runs; then
        start_service || take_back
    elif command -v systemctl >/dev/null; then
        ctl enable --quiet chamberwatch
    fi
    rm -f "$program/unit-before" "$program/database-before"
    forget_other_versions
}

# note NAME TEXT
note() {
    printf '%s\n' "$2" >"$program/$1.part"
    sync "$program/$1.part"
    mv -T "$program/$1.part" "$program/$1"
    sync "$program"
}

# Where the new version will change how the database is laid out, it is copied as it is.
keep_database() {
    local copy
    # Broken off after the new version may have begun with it: the copy is there already.
    if is_in_use "$release" && [ -e "$program/database-before" ]; then
        return
    fi
    if ! copy=$(as_service "$release/bin/python" "$checkout/deploy/install/keep_database.py" copy "$state/chamberwatch.toml"); then
        rm -f "$program/unit-before" "$program/upgrading-from"
        stop "So nothing was changed, and what ran before goes on. Mend that and run this again."
    fi
    rm -f "$program/database-before"
    [ -n "$copy" ] || return 0
    note database-before "$copy"
    printf '  The database as it was before the upgrade is kept: %s\n' "$copy"
}

start_service() {
    ctl daemon-reload
    ctl enable --quiet chamberwatch
    ctl reset-failed chamberwatch 2>/dev/null || true
    stopped=''
    ctl restart chamberwatch || return 1
    # Ready is not yet at work: look again a little later.
    sleep "$probation_s"
    ctl --quiet is-active chamberwatch
}

# The new version does not start: the former one is put back, and the database as it was.
take_back() {
    local name why="'journalctl -u chamberwatch -n 50' says why."
    name=$(basename "$release")
    [ -e "$program/unit-before" ] ||
        stop "chamberwatch does not start: $why Mend it and run this again."
    ctl stop chamberwatch || true
    if [ -e "$program/database-before" ]; then
        as_service "$release/bin/python" "$checkout/deploy/install/keep_database.py" put-back \
            "$state/chamberwatch.toml" "$(cat "$program/database-before")" ||
            stop "$name does not start ($why), and the database could not be put back, for the reason above. It is kept: $(cat "$program/database-before"). Mend that and run this again."
    fi
    [ -z "$former" ] || use "$former"
    give 0644 root:root "$program/unit-before" "$unit"
    rm -f "$program/unit-before" "$program/database-before" "$program/upgrading-from"
    start_service ||
        stop "$name does not start, and neither does what ran before, which was put back: $why Mend it and run 'sudo systemctl restart chamberwatch'."
    stop "$name does not start: $why What ran before was put back and runs again. Mend the cause and run this again."
}

say_what_is_left() {
    if [ -z "$root" ] && ! command -v systemctl >/dev/null; then
        cat <<END
Left to do: there is no systemd here, so nothing was started, and nothing starts by itself. By hand,
as root:
  install -d -o mosquitto /run/mosquitto; mosquitto -d -c /etc/mosquitto/mosquitto.conf
  $command run
END
    elif [ -z "$root" ] && ! systemd_runs; then
        printf 'Left to do: systemd is not running here (a chroot, an image?), so nothing was started. chamberwatch and the broker start when this system boots.\n'
    fi
    if [ -z "$root" ] && [ -n "$with_broker" ] && ! command -v logrotate >/dev/null; then
        printf "Left to do: nothing keeps the broker's log in /var/log/mosquitto short: sudo apt install logrotate\n"
    fi
}

# ---------------------------------------------------------------- and away again

uninstall_all() {
    [ -z "$purge" ] || [ -n "$dry_run" ] || ask_before_purge
    if systemd_runs && [ -e "$unit" ]; then
        act "Stopping chamberwatch." ctl disable --quiet --now chamberwatch
    elif [ -e "$unit" ] && command -v systemctl >/dev/null; then
        act "Taking chamberwatch out of what starts at boot." ctl disable --quiet chamberwatch
    fi
    remove_wired
    act "Removing the service: $unit" rm -f "$unit"
    remove_command
    act "Removing the program: $program" rm -rf "$program"
    act "Removing the passwords: $secrets" remove_secrets
    if [ -e "$broker_conf" ]; then
        act "Removing the broker's settings: $broker_conf" \
            rm -f "$broker_conf" "$broker_conf.new" "$broker_acl" "$broker_acl.new" \
            "$broker_passwords" "$broker_certificate" "$broker_key"
        ! systemd_runs || act "Restarting the broker." ctl restart mosquitto
    fi
    ! systemd_runs || act "Telling systemd." ctl daemon-reload
    if [ -n "$purge" ]; then
        act "Removing settings and data: $state" rm -rf --one-file-system "$state"
        remove_user
    else
        printf 'Settings and data stay in %s. To remove them too: %s --purge\n' "$state" "$again"
    fi
}

# The authority stays with the settings, which name it: sensors that know it need no new file once
# chamberwatch is installed again.
remove_secrets() {
    if [ -z "$purge" ] && [ -e "$secrets/ca.key" ]; then
        find "$secrets" -mindepth 1 ! -name ca.key -delete
    else
        rm -rf "$secrets" "$broker_authority"
    fi
}

ask_before_purge() {
    local answer=''
    [ -e "$state" ] || return 0
    printf 'Settings, readings, batches, photos and what else lies in %s (%s) are removed for ever.\nType "remove" to go on: ' \
        "$state" "$(du -sh "$state" | cut -f 1)"
    read -r answer || true
    [ "$answer" = remove ] ||
        stop "Nothing was removed. To remove the program and keep the data: $again --uninstall"
}

remove_user() {
    if [ -n "$root" ] || ! id chamberwatch >/dev/null 2>&1; then
        return
    fi
    act "Removing the system user chamberwatch." userdel chamberwatch
}
