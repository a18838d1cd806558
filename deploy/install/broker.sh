# shellcheck shell=bash
# Sourced by install.sh: the broker's settings, passwords and certificates.

broker_changed=''

check_other_listeners() {
    local other
    [ -n "$with_broker" ] || return 0
    other=$(grep -lsE '^[[:space:]]*(listener|port|password_file|acl_file|allow_anonymous)[[:space:]]' \
        "$root/etc/mosquitto/mosquitto.conf" "$root"/etc/mosquitto/conf.d/*.conf |
        grep -vxF "$broker_conf" | head -n 1 || true)
    [ -z "$other" ] ||
        stop "mosquitto already has settings of its own in $other: take its listener and password lines out, or keep it and use --no-broker."
}

# A file of the broker that you have changed stays; the new one is then put beside it. What was
# shipped last time is kept below $program/shipped, to tell one from the other.
install_broker_file() {
    local source=$1 destination=$2 words=$3 shipped
    shipped=$program/shipped/$(basename "$destination")
    if [ -e "$destination" ] && ! cmp -s "$destination" "$shipped" && ! cmp -s "$destination" "$source"; then
        printf '%s was changed by you and stays; what is shipped now is %s.new\n' "$destination" "$destination"
        put 0644 root:root "$source" "$destination.new" "Putting $destination.new beside it."
    elif ! is_there 0644 root:root "$source" "$destination"; then
        broker_changed=yes
        act "$words" give 0644 root:root "$source" "$destination"
    fi
    [ -n "$dry_run" ] || is_there 0644 root:root "$source" "$shipped" ||
        give 0644 root:root "$source" "$shipped"
}

random_password() {
    head -c 18 /dev/urandom | base64 | tr '+/' '-_'
}

make_passwords() {
    local work daemon sensor
    daemon=$(random_password)
    sensor=$(random_password)
    work=$(mktemp -d -p "$scratch")
    # Hashed from a private file: on a command line a password could be seen by anyone.
    (umask 077 && printf 'chamberwatch:%s\nsensor:%s\n' "$daemon" "$sensor" >"$work/passwords" &&
        printf '%s' "$daemon" >"$work/daemon")
    mosquitto_passwd -U "$work/passwords"
    # Broken off half-way, one of the two is missing, and both are made anew.
    rm -f "$secrets/mqtt_password"
    give 0600 mosquitto:mosquitto "$work/passwords" "$broker_passwords"
    give 0600 root:root "$work/daemon" "$secrets/mqtt_password"
    cat <<END

  Give this to your sensors; it is shown only now:
    user      sensor
    password  $sensor
  Lost it? sudo deploy/install.sh --new-passwords

END
}

install_passwords() {
    if [ -e "$broker_passwords" ] && [ -e "$secrets/mqtt_password" ] && [ -z "$new_passwords" ]; then
        mend_rights 0600 mosquitto:mosquitto "$broker_passwords"
        mend_rights 0600 root:root "$secrets/mqtt_password"
    else
        broker_changed=yes must_start=yes
        act "Making passwords for the broker: $broker_passwords" make_passwords
    fi
}

install_broker() {
    local work
    choose_tls
    work=$(mktemp -d -p "$scratch")
    broker_settings >"$work/chamberwatch.conf"
    [ "$tls" != yes ] || install_certificates
    install_broker_file "$work/chamberwatch.conf" "$broker_conf" "Setting up the broker: $broker_conf"
    install_broker_file "$checkout/deploy/broker.acl" "$broker_acl" "Setting who may read and write: $broker_acl"
    install_passwords
    install_wired_password
    point_at_broker
    if systemd_runs && { [ -n "$broker_changed" ] || ! ctl --quiet is-active mosquitto; }; then
        act "Restarting the broker." restart_broker
    fi
}

# The service wants the file to be there, even if the broker asks for no password.
leave_broker() {
    if [ ! -e "$secrets/mqtt_password" ]; then
        act "Making an empty $secrets/mqtt_password: put your broker's password into it." \
            give 0600 root:root /dev/null "$secrets/mqtt_password"
    else
        mend_rights 0600 root:root "$secrets/mqtt_password"
    fi
    install_wired_password
}

restart_broker() {
    ctl enable --quiet mosquitto
    ctl restart mosquitto ||
        stop "The broker does not start with the new settings: 'journalctl -u mosquitto -n 20' and /var/log/mosquitto/mosquitto.log say why. Mend that and run this again."
}

# ---------------------------------------------------------------- encryption

# Chosen once, it stays until the other is chosen.
choose_tls() {
    asked_tls=$tls
    if [ -z "$tls" ]; then
        is_encrypted || is_authority_named && tls=yes || tls=no
    fi
}

# Tells whether the settings lead to our authority: encrypted once, removed, installed again.
is_authority_named() {
    grep -qs "^ca_file = \"$broker_authority\"" "$state/chamberwatch.toml"
}

# Tells whether the broker was set up with certificates of ours.
is_encrypted() {
    grep -qsxF "certfile ${broker_certificate#"$root"}" "$broker_conf"
}

broker_settings() {
    if [ "$tls" = yes ]; then
        sed -e "s|^listener 1883\$|listener 8883\ncertfile ${broker_certificate#"$root"}\nkeyfile ${broker_key#"$root"}|" \
            "$checkout/deploy/broker.conf"
    else
        cat "$checkout/deploy/broker.conf"
    fi
}

# The names and addresses that this machine is called by. IPv6 addresses of the network change by
# the day and are left out.
names_of_machine() {
    local each name
    name=$(uname -n)
    printf 'DNS:%s\nDNS:%s.local\nDNS:localhost\nIP:127.0.0.1\nIP:::1\n' "$name" "${name%%.*}"
    for each in $(hostname -I 2>/dev/null); do
        case $each in
            *:* | 127.*) ;;
            *) printf 'IP:%s\n' "$each" ;;
        esac
    done
}

# Tells whether the certificate is of our authority, good for another year, and for every name.
is_certificate_good() {
    local name
    [ -e "$broker_key" ] && openssl verify -CAfile "$broker_authority" "$broker_certificate" >/dev/null 2>&1 || return 1
    openssl x509 -in "$broker_certificate" -noout -checkend 31536000 >/dev/null || return 1
    names_of_machine | while read -r name; do
        case $name in
            DNS:*) openssl x509 -in "$broker_certificate" -noout -checkhost "${name#*:}" ;;
            *) openssl x509 -in "$broker_certificate" -noout -checkip "${name#*:}" ;;
        esac | grep -q 'does match' || return 1
    done
}

install_certificates() {
    command -v openssl >/dev/null ||
        stop "openssl makes the certificates, and was not found: sudo apt install openssl"
    if [ ! -e "$secrets/ca.key" ] || [ ! -e "$broker_authority" ]; then
        broker_changed=yes
        act "Making an authority for certificates: $broker_authority" make_authority
    fi
    if [ -n "$dry_run" ] || ! is_certificate_good; then
        broker_changed=yes
        act "Making a certificate for the broker: $broker_certificate" make_certificate
    fi
    [ -n "$dry_run" ] || mend_rights 0600 root:root "$secrets/ca.key"
    [ -n "$dry_run" ] || mend_rights 0640 root:mosquitto "$broker_key"
}

make_key() {
    openssl genpkey -algorithm EC -pkeyopt ec_paramgen_curve:prime256v1 -out "$1" 2>/dev/null
}

# Makes ca.key and ca.crt in a folder.
sign_authority() {
    local name
    name=$(uname -n)
    cat >"$1/conf" <<END
[req]
distinguished_name = name
x509_extensions = authority
prompt = no
[name]
CN = chamberwatch authority of ${name:0:32}
[authority]
basicConstraints = critical, CA:TRUE, pathlen:0
keyUsage = critical, keyCertSign
subjectKeyIdentifier = hash
END
    make_key "$1/ca.key" &&
        openssl req -x509 -new -sha256 -days 7300 -key "$1/ca.key" -config "$1/conf" -out "$1/ca.crt"
}

make_authority() {
    local work
    work=$(mktemp -d -p "$scratch")
    (umask 077 && sign_authority "$work") ||
        stop "openssl could not make the authority: what it says above tells why. Mend that and run this again."
    # Broken off between the two, both are made anew.
    rm -f "$broker_authority"
    give 0600 root:root "$work/ca.key" "$secrets/ca.key"
    give 0644 root:root "$work/ca.crt" "$broker_authority"
}

# Makes key and certificate in a folder.
sign_certificate() {
    cat >"$1/extensions" <<END
basicConstraints = critical, CA:FALSE
keyUsage = critical, digitalSignature
extendedKeyUsage = serverAuth
subjectAltName = $(names_of_machine | tr '\n' ',' | sed 's/,$//')
END
    make_key "$1/key" &&
        openssl req -new -sha256 -key "$1/key" -subj "/CN=$(uname -n)" -out "$1/request" &&
        openssl x509 -req -sha256 -days 3650 -in "$1/request" -set_serial "0x$(openssl rand -hex 16)" \
            -CA "$broker_authority" -CAkey "$secrets/ca.key" -extfile "$1/extensions" \
            -out "$1/certificate" 2>/dev/null
}

make_certificate() {
    local work
    work=$(mktemp -d -p "$scratch")
    (umask 077 && sign_certificate "$work") ||
        stop "openssl could not make the certificate: what it says above tells why. Mend that and run this again."
    # Broken off between the two, the pair does not fit; without the certificate both are made anew.
    rm -f "$broker_certificate"
    give 0640 root:mosquitto "$work/key" "$broker_key"
    give 0644 root:root "$work/certificate" "$broker_certificate"
    say_how_to_encrypt
}

say_how_to_encrypt() {
    cat <<END

  From now on sensors connect to port 8883 with TLS. Give each of them this file, which is no
  secret, so that it knows the broker:
    $broker_authority
  The broker is called $(names_of_machine | sed 's/^[^:]*://' | tr '\n' ' ')
  Its certificate is good until $(openssl x509 -in "$broker_certificate" -noout -enddate | cut -d = -f 2). From a year before that, and
  after a change of name or address, sudo deploy/install.sh renews it; the file above stays the same.

END
}

# Lets the settings lead to the port that the broker listens on.
point_at_broker() {
    local ca=()
    [ "$tls" = yes ] && ca=("$broker_authority")
    # Never encrypted, and nobody asked: what stands there is yours.
    if [ "$tls" = no ] && [ -z "$asked_tls" ]; then
        return
    fi
    if [ -n "$dry_run" ]; then
        if [ "$tls" = no ] || ! is_encrypted; then
            act "Setting port and encryption of the broker in $state/chamberwatch.toml." true
        fi
    elif [ "$tls" = yes ] && ! is_encrypted; then
        printf "Encryption is not on yet: take the lines of %s.new into %s, and run this again.\n" \
            "$broker_conf" "$broker_conf"
    elif [ "$(as_service "$release/bin/python" "$checkout/deploy/install/use_tls.py" "$state/chamberwatch.toml" "${ca[@]}")" = changed ]; then
        anything=yes must_start=yes
        printf 'Port and encryption of the broker were set in %s.\n' "$state/chamberwatch.toml"
    fi
}
