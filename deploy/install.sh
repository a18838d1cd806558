#!/usr/bin/env bash
# Installs chamberwatch on a Raspberry Pi (or any Debian 12 and later) as a service, from this
# checkout or from a wheel. Safe to run again: that is how it is upgraded, and how what a power cut
# broke off is brought to its end. deploy/install.sh --help says the rest.
set -euo pipefail

checkout=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd -P)
root='' dry_run='' uninstall='' purge='' with_broker=yes with_wired='' new_passwords='' tls='' wheel=''
anything='' # set once anything was changed, or would have been
umask 022

# shellcheck source=deploy/install/files.sh
. "$checkout/deploy/install/files.sh"
# shellcheck source=deploy/install/program.sh
. "$checkout/deploy/install/program.sh"
# shellcheck source=deploy/install/broker.sh
. "$checkout/deploy/install/broker.sh"
# shellcheck source=deploy/install/wired.sh
. "$checkout/deploy/install/wired.sh"
# shellcheck source=deploy/install/service.sh
. "$checkout/deploy/install/service.sh"

usage() {
    cat <<'END'
Usage: sudo deploy/install.sh [options]

Installs, or upgrades, chamberwatch as a service:
  program    /opt/chamberwatch/venv
  command    /usr/local/bin/chamberwatch: the program with these settings; with sudo, as the service
  settings   /var/lib/chamberwatch/chamberwatch.toml (yours; never overwritten)
  data       /var/lib/chamberwatch
  service    /etc/systemd/system/chamberwatch.service
  broker     /etc/mosquitto/conf.d/chamberwatch.conf, with an access list and passwords
  password   /etc/chamberwatch/mqtt_password, which only root and the service can read

An upgrade is made beside the version that runs. If the new one refuses your settings or does not
start, the former one is put back, and the database as it was.

Options:
  --dry-run         say what would be done, and change nothing
  --wheel FILE      install this wheel of chamberwatch, not what is in the checkout; what it needs
                    is taken from the folder of the wheel where it lies there
  --wired           also what sensors on wires (I2C) need, with a service of their own;
                    once installed it is upgraded with the rest
  --no-broker       leave mosquitto alone; you have a broker of your own
  --new-passwords   make new passwords for the broker; every sensor needs the new one
  --tls             encrypt what goes to the broker (port 8883 in place of 1883), with certificates
                    of its own; every sensor needs the file of the authority. Stays on from then on
  --no-tls          back to port 1883 without encryption
  --uninstall       remove the program, service and broker settings; settings and data stay
  --purge           uninstall, and remove settings and data too; it asks first
  --root DIR        put everything below DIR, without users and services (to try the script)
  --help            show this
END
}

stop() {
    printf '%s\n' "$1" >&2
    exit 1
}

# Whatever ends the script: what holds secrets for a moment goes, and what was stopped runs again.
leave() {
    rm -rf "$scratch"
    if [ -n "$stopped" ]; then
        ctl start chamberwatch || true
    fi
}

# Say what is done, and do it unless this is a dry run.
act() {
    local what=$1
    shift
    anything=yes
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
            --wired) with_wired=yes ;;
            --new-passwords) new_passwords=yes ;;
            --tls) tls=yes ;;
            --no-tls) tls=no ;;
            --uninstall) uninstall=yes ;;
            --purge) uninstall=yes purge=yes ;;
            --wheel)
                [ -f "${2-}" ] || stop "--wheel needs a file that is there: deploy/install.sh --wheel chamberwatch-0.1.0-py3-none-any.whl"
                wheel=$(cd "$(dirname "$2")" && pwd -P)/$(basename "$2")
                shift
                ;;
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
    [ -n "$with_broker" ] || [ -z "$new_passwords$tls" ] ||
        stop "--no-broker leaves your broker alone, so --new-passwords and --tls don't go with it: leave one out."
}

name_places() {
    again="sudo deploy/install.sh${root:+ --root $root}"
    program=$root/opt/chamberwatch
    command=$root/usr/local/bin/chamberwatch
    state=$root/var/lib/chamberwatch
    secrets=$root/etc/chamberwatch
    unit=$root/etc/systemd/system/chamberwatch.service
    wired_unit=$root/etc/systemd/system/chamberwatch-wired.service
    broker_conf=$root/etc/mosquitto/conf.d/chamberwatch.conf
    broker_acl=$root/etc/mosquitto/chamberwatch.acl
    broker_passwords=$root/etc/mosquitto/chamberwatch.passwd
    broker_authority=$root/etc/mosquitto/ca_certificates/chamberwatch-ca.crt
    broker_certificate=$root/etc/mosquitto/certs/chamberwatch.crt
    broker_key=$root/etc/mosquitto/certs/chamberwatch.key
}

# ---------------------------------------------------------------- is everything there?

check_machine() {
    if [ -z "$root" ] && [ -z "$dry_run" ] && [ "$(id -u)" -ne 0 ]; then
        stop "This needs root: run it as 'sudo deploy/install.sh', or look first with --dry-run."
    fi
    [ -n "$dry_run" ] && return
    # Two at once would spoil each other's work.
    exec 9<"${root:-/opt}"
    flock --nonblock 9 ||
        stop "Another deploy/install.sh is at work: wait until it has ended, then run this again."
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
    [ "$tls" != yes ] || command -v openssl >/dev/null ||
        stop "openssl makes the certificates, and was not found: sudo apt install openssl"
}

install_all() {
    check_programs
    check_wires
    check_other_listeners
    add_user
    lay_folder 0755 root:root "$program" "Making the folder for the program: $program"
    lay_folder 0750 chamberwatch:chamberwatch "$state" "Making the folder for settings and data: $state"
    lay_folder 0700 root:root "$secrets" "Making the folder for the password: $secrets"
    install_program
    install_settings
    prove_settings
    if [ -n "$with_broker" ]; then
        install_broker
    else
        leave_broker
    fi
    run_program
    install_command
    install_wired
    say_what_next
}

say_what_next() {
    if [ -z "$anything" ]; then
        printf 'All is as it should be already: nothing was changed.\n'
    elif [ -z "$dry_run" ]; then
        cat <<END

Installed${root:+ below $root}: $(basename "$release"). Next${root:+, once that is booted}:
  the page   README.md, "First start"
  how it is  sudo chamberwatch health; journalctl -u chamberwatch -f
  settings   the page, or sudo nano ${state#"$root"}/chamberwatch.toml and then sudo systemctl reload chamberwatch
END
        say_next_of_wires
    fi
    [ -n "$dry_run" ] || say_what_is_left
}

read_options "$@"
name_places
check_machine
scratch=$(mktemp -d)
trap leave EXIT
if [ -n "$uninstall" ]; then
    uninstall_all
else
    install_all
fi
