#!/usr/bin/env bash
# Installs chamberwatch on a Raspberry Pi (or any Debian 12 and later) as a service, from this
# checkout. Safe to run again: that is how it is upgraded. deploy/install.sh --help says the rest.
set -euo pipefail

checkout=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd -P)
root='' dry_run='' uninstall='' with_broker=yes new_passwords=''
umask 022

usage() {
    cat <<'END'
Usage: sudo deploy/install.sh [options]

Installs, or upgrades, chamberwatch as a service:
  program    /opt/chamberwatch/venv
  settings   /var/lib/chamberwatch/chamberwatch.toml (yours; never overwritten)
  data       /var/lib/chamberwatch
  service    /etc/systemd/system/chamberwatch.service
  broker     /etc/mosquitto/conf.d/chamberwatch.conf, with an access list and passwords
  password   /etc/chamberwatch/mqtt_password, which only root and the service can read

Options:
  --dry-run         say what would be done, and change nothing
  --no-broker       leave mosquitto alone; you have a broker of your own
  --new-passwords   make new passwords for the broker; every sensor needs the new one
  --uninstall       remove the program, service and broker settings; settings and data stay
  --root DIR        put everything below DIR, without users and services (to try the script)
  --help            show this
END
}

stop() {
    printf '%s\n' "$1" >&2
    exit 1
}

# Say what is done, and do it unless this is a dry run.
act() {
    local what=$1
    shift
    if [ -n "$dry_run" ]; then
        printf 'would: %s\n' "$what"
    else
        printf '%s\n' "$what"
        "$@"
    fi
}

read_options() {
    while [ $# -gt 0 ]; do
        case $1 in
            --dry-run) dry_run=yes ;;
            --no-broker) with_broker='' ;;
            --new-passwords) new_passwords=yes ;;
            --uninstall) uninstall=yes ;;
            --root)
                [ $# -ge 2 ] || stop "--root needs a folder: deploy/install.sh --root /tmp/try"
                [ -d "$2" ] || stop "The folder $2 does not exist: make it first (mkdir $2)."
                root=$(cd "$2" && pwd -P)
                shift
                ;;
            --help | -h)
                usage
                exit 0
                ;;
            *) stop "Unknown option $1: see deploy/install.sh --help." ;;
        esac
        shift
    done
    [ -z "$new_passwords" ] || [ -n "$with_broker" ] ||
        stop "--new-passwords and --no-broker don't go together: leave one out."
}

name_places() {
    program=$root/opt/chamberwatch
    state=$root/var/lib/chamberwatch
    secrets=$root/etc/chamberwatch
    unit=$root/etc/systemd/system/chamberwatch.service
    broker_conf=$root/etc/mosquitto/conf.d/chamberwatch.conf
    broker_acl=$root/etc/mosquitto/chamberwatch.acl
    broker_passwords=$root/etc/mosquitto/chamberwatch.passwd
}

# ---------------------------------------------------------------- is everything there?

check_machine() {
    if [ -z "$root" ] && [ -z "$dry_run" ] && [ "$(id -u)" -ne 0 ]; then
        stop "This needs root: run it as 'sudo deploy/install.sh', or look first with --dry-run."
    fi
    if [ -z "$root" ] && ! command -v systemctl >/dev/null; then
        stop "systemd was not found, and the service needs it: use Raspberry Pi OS or Debian 12 and later."
    fi
}

check_programs() {
    command -v python3 >/dev/null ||
        stop "Python 3 was not found: sudo apt install python3 python3-venv"
    python3 -c 'import sys; sys.exit(sys.version_info < (3, 11))' ||
        stop "Python 3.11 or newer is needed: upgrade to Raspberry Pi OS Bookworm (Debian 12) or later."
    python3 -c 'import ensurepip, venv' 2>/dev/null ||
        stop "Python's venv module is missing: sudo apt install python3-venv"
    [ -n "$with_broker" ] || return 0
    command -v mosquitto_passwd >/dev/null ||
        stop "The broker is missing: sudo apt install mosquitto mosquitto-clients (or use --no-broker with your own)."
}

check_other_listeners() {
    local other
    [ -n "$with_broker" ] || return 0
    other=$(grep -lsE '^[[:space:]]*(listener|port|password_file|acl_file|allow_anonymous)[[:space:]]' \
        "$root/etc/mosquitto/mosquitto.conf" "$root"/etc/mosquitto/conf.d/*.conf |
        grep -vxF "$broker_conf" | head -n 1 || true)
    [ -z "$other" ] ||
        stop "mosquitto already has settings of its own in $other: take its listener and password lines out, or keep it and use --no-broker."
}

# ---------------------------------------------------------------- putting things in place

# give MODE OWNER SOURCE DESTINATION; below --root there are no owners.
give() {
    local owner=(-o "${2%:*}" -g "${2#*:}")
    [ -z "$root" ] || owner=()
    install -D -m "$1" "${owner[@]}" "$3" "$4"
}

folder() {
    local owner=(-o "${2%:*}" -g "${2#*:}")
    [ -z "$root" ] || owner=()
    install -d -m "$1" "${owner[@]}" "$3"
}

add_user() {
    if [ -n "$root" ] || id chamberwatch >/dev/null 2>&1; then
        return
    fi
    act "Adding the system user chamberwatch." \
        useradd --system --user-group --home-dir "$state" --no-create-home \
        --shell /usr/sbin/nologin chamberwatch
}

install_program() {
    local log=$program/install.log pip=("$program/venv/bin/python" -m pip)
    mkdir -p "$program/tmp"
    "${pip[@]}" --version >/dev/null 2>&1 || python3 -m venv --clear "$program/venv" >"$log" 2>&1 ||
        stop "The Python environment could not be made in $program: free some disk space (df -h) and run this again (details: $log)."
    # /tmp is often a small memory disk; the packages are unpacked beside the environment instead.
    TMPDIR=$program/tmp "${pip[@]}" install --no-input --disable-pip-version-check \
        --constraint "$checkout/deploy/constraints.txt" "${checkout}[images]" >"$log" 2>&1 ||
        stop "The program could not be installed: see that the internet is reachable and 500 MB are free, then run this again (details: $log)."
    rm -rf "$program/tmp" "$log"
}

# A file of the broker that you have changed stays; the new one is then put beside it. What was
# shipped last time is kept below $program/shipped, to tell one from the other.
install_broker_file() {
    local source=$1 destination=$2 shipped
    shipped=$program/shipped/$(basename "$1")
    if [ -e "$destination" ] && ! cmp -s "$destination" "$shipped" && ! cmp -s "$destination" "$source"; then
        printf '  %s was changed by you and stays; the new one is %s.new\n' "$destination" "$destination"
        give 0644 root:root "$source" "$destination.new"
    else
        give 0644 root:root "$source" "$destination"
    fi
    give 0644 root:root "$source" "$shipped"
}

random_password() {
    head -c 18 /dev/urandom | base64 | tr '+/' '-_'
}

make_passwords() {
    local work daemon sensor
    daemon=$(random_password)
    sensor=$(random_password)
    work=$(mktemp -d)
    # Hashed from a private file: on a command line a password could be seen by anyone.
    (umask 077 && printf 'chamberwatch:%s\nsensor:%s\n' "$daemon" "$sensor" >"$work/passwords" &&
        printf '%s' "$daemon" >"$work/daemon")
    mosquitto_passwd -U "$work/passwords"
    give 0600 mosquitto:mosquitto "$work/passwords" "$broker_passwords"
    give 0600 root:root "$work/daemon" "$secrets/mqtt_password"
    rm -r "$work"
    cat <<END

  Give this to your sensors; it is shown only now:
    user      sensor
    password  $sensor
  Lost it? sudo deploy/install.sh --new-passwords

END
}

install_broker() {
    act "Setting up the broker: $broker_conf" install_broker_file "$checkout/deploy/broker.conf" "$broker_conf"
    act "Setting who may read and write: $broker_acl" install_broker_file "$checkout/deploy/broker.acl" "$broker_acl"
    if [ -e "$broker_passwords" ] && [ -e "$secrets/mqtt_password" ] && [ -z "$new_passwords" ]; then
        printf "The broker's passwords stay as they are.\n"
    else
        act "Making passwords for the broker: $broker_passwords" make_passwords
    fi
}

# The service wants the file to be there, even if the broker asks for no password.
leave_broker() {
    if [ ! -e "$secrets/mqtt_password" ]; then
        act "Making an empty $secrets/mqtt_password: put your broker's password into it." \
            give 0600 root:root /dev/null "$secrets/mqtt_password"
    fi
}

# The shipped settings, fitted to the broker as it is set up here: who we are there, and that it
# hands out many messages before it waits for us.
settings_to_start_from() {
    local source=$checkout/config/chamberwatch.toml work
    work=$(mktemp)
    if [ -n "$with_broker" ]; then
        sed -e 's/^# \(username = "chamberwatch"\)/\1/' -e 's/^window = 15 /window = 500/' "$source" >"$work"
    else
        cat "$source" >"$work"
    fi
    give 0640 chamberwatch:chamberwatch "$work" "$state/chamberwatch.toml"
    rm "$work"
}

install_settings() {
    act "Making the folder for settings and data: $state" folder 0750 chamberwatch:chamberwatch "$state"
    if [ -e "$state/chamberwatch.toml" ]; then
        printf 'Your settings stay as they are: %s\n' "$state/chamberwatch.toml"
    else
        act "Putting settings to start from: $state/chamberwatch.toml" settings_to_start_from
    fi
}

# ---------------------------------------------------------------- services

restart_broker() {
    systemctl enable --quiet mosquitto
    systemctl restart mosquitto ||
        stop "The broker does not start with the new settings: 'journalctl -u mosquitto -n 20' and /var/log/mosquitto/mosquitto.log say why."
}

start_service() {
    systemctl daemon-reload
    systemctl enable --quiet chamberwatch
    systemctl restart chamberwatch ||
        stop "chamberwatch does not start: 'journalctl -u chamberwatch -n 30' says why; mend it and run 'sudo systemctl restart chamberwatch'."
}

install_all() {
    check_programs
    check_other_listeners
    add_user
    act "Installing the program: $program/venv (a few minutes on a Pi)" install_program
    act "Making the folder for the password: $secrets" folder 0700 root:root "$secrets"
    install_settings
    if [ -n "$with_broker" ]; then
        install_broker
    else
        leave_broker
    fi
    act "Installing the service: $unit" give 0644 root:root "$checkout/deploy/chamberwatch.service" "$unit"
    if [ -z "$root" ]; then
        [ -z "$with_broker" ] || act "Restarting the broker." restart_broker
        act "Starting chamberwatch, now and at every boot." start_service
    fi
    [ -n "$dry_run" ] || say_what_next
}

say_what_next() {
    cat <<END

Installed. Next:
  settings   sudo nano $state/chamberwatch.toml, then sudo systemctl restart chamberwatch
  how it is  systemctl status chamberwatch; journalctl -u chamberwatch -f
  the page   README.md, "Connecting a phone"
END
}

uninstall_all() {
    if [ -z "$root" ] && [ -e "$unit" ]; then
        act "Stopping chamberwatch." systemctl disable --quiet --now chamberwatch
    fi
    act "Removing the service: $unit" rm -f "$unit"
    act "Removing the program: $program" rm -rf "$program"
    act "Removing the password: $secrets" rm -rf "$secrets"
    if [ -e "$broker_conf" ]; then
        act "Removing the broker's settings: $broker_conf" \
            rm -f "$broker_conf" "$broker_conf.new" "$broker_acl" "$broker_acl.new" "$broker_passwords"
        [ -n "$root" ] || act "Restarting the broker." systemctl restart mosquitto
    fi
    [ -n "$root" ] || act "Telling systemd." systemctl daemon-reload
    printf 'Settings and data stay in %s. To remove them too: sudo rm -r %s && sudo userdel chamberwatch\n' \
        "$state" "$state"
}

read_options "$@"
name_places
check_machine
if [ -n "$uninstall" ]; then
    uninstall_all
else
    install_all
fi
