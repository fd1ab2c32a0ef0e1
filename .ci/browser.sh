# A real browser and what drives it, for checks of pages; to be sourced, from the top of the project.
#
#   browser_driver FOLDER      puts the driver and the checker of accessibility into FOLDER
browser_packages=()
[ -x /usr/bin/chromium ] || browser_packages+=(chromium)
command -v npm >/dev/null || browser_packages+=(nodejs npm)
[ "${#browser_packages[@]}" -eq 0 ] || bash .ci/install.sh "${browser_packages[@]}"

browser_driver() {
    mkdir "$1"
    (cd "$1" && npm init -y >/dev/null && npm install --silent --no-audit --no-fund \
        playwright-core@1 axe-core@4 >/dev/null) || {
        echo "the browser's driver cannot be installed" >&2
        return 1
    }
}
