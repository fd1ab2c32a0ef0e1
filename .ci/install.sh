#!/usr/bin/env bash
# Installs Debian packages for a check, one check at a time: install.sh [OPTION] PACKAGE...
set -euo pipefail

echo "installing: $*"
exec 9>"${TMPDIR:-/tmp}/trundle-checks-install.lock"
flock 9
apt-get update -qq
DEBIAN_FRONTEND=noninteractive apt-get install -y -qq -o DPkg::Lock::Timeout=600 "$@" >/dev/null
