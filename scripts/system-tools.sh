#!/usr/bin/env bash
# What the tests need beside Python packages, from Debian's: a browser, its store of certificates,
# an MQTT broker, and OpenSSL to check our certificates with.
# Does nothing where they are there. Elsewhere than on Debian, install them by hand.
set -euo pipefail

missing=()
command -v chromium >/dev/null || missing+=(chromium)
command -v mosquitto >/dev/null || [ -x /usr/sbin/mosquitto ] || missing+=(mosquitto)
command -v certutil >/dev/null || missing+=(libnss3-tools)
command -v openssl >/dev/null || missing+=(openssl)
[ "${#missing[@]}" -eq 0 ] && exit 0

if ! command -v apt-get >/dev/null; then
    echo "The tests need: ${missing[*]}. Install them as your system does, then run again." >&2
    exit 1
fi
if [ "$(id -u)" -ne 0 ]; then
    echo "The tests need: ${missing[*]}. Run: sudo apt-get install --no-install-recommends ${missing[*]}" >&2
    exit 1
fi
echo "Installing ${missing[*]} (once)."
export DEBIAN_FRONTEND=noninteractive
apt-get update -qq
apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
