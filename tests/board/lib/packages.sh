# Debian packages, fetched by name and unpacked; none is installed.

# QEMU with what it links to that a machine without it lacks. Not `apt-get install`: beside a newer
# qemu-utils that would remove packages.
QEMU_PACKAGES="qemu-system-x86 qemu-system-common qemu-system-data seabios ipxe-qemu libbrlapi0.8 libcacard0
 libcapstone4 libdaxctl1 libepoxy0 libexecs0 libfdt1 liborc-0.4-0 libgstreamer-plugins-base1.0-0 libnl-3-200
 libnl-route-3-200 libibverbs1 libndctl6 libopus0 libpmem1 librdmacm1 libslirp0 libsndio7.0 libspice-server1
 libusb-1.0-0 libusbredirparser1 libvdeplug2"
# The least that boots systemd.
SYSTEMD_PACKAGES="systemd systemd-sysv udev libsystemd0 libsystemd-shared libudev1 libc6 libgcc-s1 libacl1 libattr1
 libaudit1 libaudit-common libcap-ng0 libblkid1 libcap2 libcryptsetup12 libfdisk1 libgcrypt20 libgpg-error0 libkmod2
 liblz4-1 liblzma5 libmount1 libp11-kit0 libffi8 libseccomp2 libselinux1 libpcre2-8-0 libssl3 libzstd1 libip4tc2
 libapparmor1 libcrypt1 libpam0g libargon2-1 libdevmapper1.02.1 libjson-c5 libuuid1 zlib1g libsmartcols1 libgmp10
 mount util-linux coreutils dash base-files base-passwd busybox-static kmod tzdata"

fetch_packages() {
    local image version
    apt-get -q -o DPkg::Lock::Timeout=120 update >"$BOARD_DIR/log/apt-update" 2>&1 || say "apt-get update failed; going on with the lists at hand"
    image=$(apt-cache depends linux-image-amd64 | awk '/Depends:/ { print $2; exit }')
    version=${image#linux-image-}
    printf '%s' "$version" >"$BOARD_DIR/kernel-version"
    # shellcheck disable=SC2086
    (cd "$BOARD_DIR/debs" && apt-get -q -o APT::Sandbox::User=root -o Acquire::Retries=3 download "$image" \
        "linux-headers-$version" "linux-headers-${version%-amd64}-common" linux-kbuild-6.1 linux-source-6.1 \
        $QEMU_PACKAGES $SYSTEMD_PACKAGES) >"$BOARD_DIR/log/apt-download" 2>&1 || { tail -5 "$BOARD_DIR/log/apt-download"; fail "packages could not be fetched"; }
}

# The newest file of a package.
package() {
    local file
    file=$(ls -t "$BOARD_DIR/debs/$1"_*.deb 2>/dev/null | head -1)
    [ -n "$file" ] || fail "package $1 was not fetched"
    printf '%s' "$file"
}

# unpack FOLDER PACKAGE...
unpack() {
    local folder=$1 name
    shift
    mkdir -p "$folder"
    for name in "$@"; do dpkg-deb -x "$(package "$name")" "$folder"; done
}

unpack_qemu() {
    rm -rf "$BOARD_DIR/qemu"
    # shellcheck disable=SC2086
    unpack "$BOARD_DIR/qemu" $QEMU_PACKAGES
    ! LD_LIBRARY_PATH=$(qemu_libraries) ldd "$BOARD_DIR/qemu/usr/bin/qemu-system-x86_64" | grep 'not found' || fail "QEMU lacks these: add their packages to QEMU_PACKAGES"
}

qemu_libraries() {
    printf '%s' "$BOARD_DIR/qemu/usr/lib/x86_64-linux-gnu:$BOARD_DIR/qemu/lib/x86_64-linux-gnu"
}
