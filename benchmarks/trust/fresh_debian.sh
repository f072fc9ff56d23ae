#!/bin/sh
# The README's first command on a Debian that has nothing but Python (root, network):
#
#     sh benchmarks/trust/fresh_debian.sh [FOLDER [SUITE [MIRROR]]]
#
# debootstrap makes a minimal system in FOLDER (kept, if it was there).  The command runs in
# it as the README has it; where it fails for want of system libraries, the packages that
# `doctor` names are installed, nothing else, and it runs again.  What is told to whom, and
# how long it takes, is printed; exit code 0 when the second run is whole.
set -eu
here=$(cd "$(dirname "$0")/../.." && pwd)
root=${1:-$(mktemp -d)}
suite=${2:-stable}
mirror=${3:-http://deb.debian.org/debian}
log=$root.log
command=$(sed -n '/^```sh$/,/^```$/p' "$here/README.md" | sed -n 2p)

took() { echo "   ($(($(date +%s) - since)) s)"; since=$(date +%s); }
inside() {
    chroot "$root" /usr/bin/env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root \
        LANG=C.UTF-8 SSL_CERT_FILE=/etc/ssl/certs/ca-certificates.crt \
        PIP_CERT=/etc/ssl/certs/ca-certificates.crt sh -c "$1"
}
leave() { umount "$root/proc" "$root/dev" 2>/dev/null || true; }

since=$(date +%s)
if [ ! -x "$root/usr/bin/python3" ]; then
    debootstrap --variant=minbase --include=python3,python3-venv,ca-certificates \
        "$suite" "$root" "$mirror" >"$log" 2>&1
fi
trap leave EXIT INT TERM
mount --bind /proc "$root/proc"
mount --bind /dev "$root/dev"
cp /etc/resolv.conf "$root/etc/resolv.conf"
# behind a firewall that signs for others its certificate is needed in there, too
cp -L "${SSL_CERT_FILE:-/etc/ssl/certs/ca-certificates.crt}" \
    "$root/etc/ssl/certs/ca-certificates.crt"
echo "system: $(inside '. /etc/os-release; echo $PRETTY_NAME'), $(inside 'python3 -V')," \
    "$(inside 'dpkg-query -W | wc -l') packages"
took

rm -rf "$root/root/shrinksim"
mkdir "$root/root/shrinksim"
git -C "$here" archive HEAD | tar -x -C "$root/root/shrinksim"

echo "1. $command"
code=0
inside "cd /root/shrinksim && $command" >"$root/root/first.txt" 2>&1 || code=$?
echo "   exit code $code, and says last:"
tail -n 6 "$root/root/first.txt" | cut -c 1-400 | sed 's/^/   | /'
took

if [ "$code" -ne 0 ]; then
    echo "2. .venv/bin/shrinksim doctor"
    inside 'cd /root/shrinksim && .venv/bin/shrinksim doctor' \
        >"$root/root/doctor.txt" 2>&1 || true
    sed 's/^/   | /' "$root/root/doctor.txt"
    install=$(grep -o 'apt[-a-z]* install.*' "$root/root/doctor.txt" | head -n 1)
    took
    echo "3. $install"
    inside "apt-get -qq update && DEBIAN_FRONTEND=noninteractive ${install%.} -y -qq" \
        >>"$log" 2>&1
    took
    echo "4. $command"
    code=0
    inside "cd /root/shrinksim && $command" >"$root/root/second.txt" 2>&1 || code=$?
    echo "   exit code $code, and says last:"
    tail -n 3 "$root/root/second.txt" | cut -c 1-400 | sed 's/^/   | /'
    took
fi
[ "$code" -eq 0 ] && [ -s "$root/root/shrinksim/results/flat_bar_vee/report.html" ]
