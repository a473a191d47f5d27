# The two guests: `busybox`, a shell in memory that is up in two seconds, and `systemd`, a real one on ext4.

LIBRARIES="ld-linux-x86-64.so.2 libc.so.6 libm.so.6 libgcc_s.so.1"

unpack_busybox() {
    local root=$BOARD_DIR/busybox parts=$BOARD_DIR/busybox-parts library
    rm -rf "$root" "$parts"
    unpack "$parts" busybox-static libc6 libgcc-s1 tzdata
    mkdir -p "$root"/{bin,lib,mod,proc,sys,dev,tmp,etc,run,board,usr/bin,usr/share,lib64,lib/x86_64-linux-gnu}
    cp "$parts/bin/busybox" "$root/bin/"
    for library in $LIBRARIES; do cp -L "$parts/lib/x86_64-linux-gnu/$library" "$root/lib/x86_64-linux-gnu/"; done
    ln -s /lib/x86_64-linux-gnu/ld-linux-x86-64.so.2 "$root/lib64/"
    cp -r "$parts/usr/share/zoneinfo" "$root/usr/share/"
    rm -rf "$root"/usr/share/zoneinfo/{posix,right}
    cp "$BOARD_DIR/module/stripped.ko" "$root/mod/gpio-sim.ko"
    cp "$BOARD_DIR/kernel/lib/modules/$(kernel_version)/kernel/fs/configfs/configfs.ko" "$root/mod/"
    cp "$HERE/guest/init-busybox" "$root/init"
}

unpack_systemd() {
    local root=$BOARD_DIR/systemd first=$BOARD_DIR/first unit module count=0
    local modules
    modules=$BOARD_DIR/kernel/lib/modules/$(kernel_version)/kernel
    rm -rf "$root" "$first"
    # shellcheck disable=SC2086
    unpack "$root" $SYSTEMD_PACKAGES
    rm -rf "$root"/usr/share/{doc,man,locale,info,i18n,lintian,bug} "$root"/usr/share/zoneinfo/{posix,right} \
        "$root"/{usr/,}lib/x86_64-linux-gnu/gconv "$root"/{usr/,}lib/udev/hwdb.d
    cp "$root/usr/share/base-passwd/passwd.master" "$root/etc/passwd"
    cp "$root/usr/share/base-passwd/group.master" "$root/etc/group"
    printf 'passwd: files\ngroup: files\n' >"$root/etc/nsswitch.conf"
    echo board >"$root/etc/hostname"
    : >"$root/etc/machine-id"
    : >"$root/etc/fstab"
    mkdir -p "$root/mod" "$root/board" "$root/etc/systemd/system/systemd-udev-trigger.service.d"
    cp "$BOARD_DIR/busybox/mod"/*.ko "$root/mod/"
    # Units that a guest under test does not need: each costs 0.1 to 0.5 s when every instruction is emulated.
    for unit in systemd-{timesyncd,networkd,update-utmp,logind,random-seed,hwdb-update,pstore,binfmt,modules-load,remount-fs,firstboot,repart}.service \
        systemd-{journal-catalog-update,update-done,boot-system-token}.service systemd-ask-password-{console,wall}.path \
        {getty@,serial-getty@,modprobe@,kmod-static-nodes,ldconfig}.service proc-sys-fs-binfmt_misc.automount \
        dev-{hugepages,mqueue}.mount sys-kernel-{debug,tracing}.mount sys-fs-fuse-connections.mount; do
        ln -sf /dev/null "$root/etc/systemd/system/$unit"
    done
    rm -f "$root"/lib/systemd/system-generators/systemd-{cryptsetup,veritysetup,integritysetup,hibernate-resume,gpt-auto,bless-boot,rc-local,sysv,getty,debug,system-update,run}-generator
    cp "$HERE/guest/udev-gpio-only.conf" "$root/etc/systemd/system/systemd-udev-trigger.service.d/"
    cp "$HERE/guest/board.target" "$HERE/guest/board-suite.service" "$root/etc/systemd/system/"
    cp "$HERE/guest/wrap-systemd" "$root/board/wrap"

    mkdir -p "$first"/{bin,mod,proc,sys,dev,root}
    cp "$BOARD_DIR/busybox/bin/busybox" "$first/bin/"
    for module in drivers/virtio/{virtio_ring,virtio_pci_modern_dev,virtio_pci_legacy_dev,virtio,virtio_pci} drivers/block/virtio_blk \
        fs/jbd2/jbd2 fs/mbcache lib/crc16 fs/ext4/ext4 crypto/crc32c_generic fs/autofs/autofs4; do
        count=$((count + 1))
        cp "$modules/$module.ko" "$first/mod/$(printf %02d $count).ko"
    done
    cp "$HERE/guest/init-first" "$first/init"
    pack "$first" "$BOARD_DIR/first.ramdisk"
}

# pack FOLDER FILE: as an initial ramdisk; not compressed, since unpacking is emulated as well.
pack() {
    (cd "$1" && find . | "$BOARD_DIR/busybox/bin/busybox" cpio -o -H newc 2>/dev/null >"$2")
}

# furnish ROOT SUITE: the program, its peers and the suite, in either guest.
furnish() {
    local root=$1 suite=$HERE/suites/$2
    install -m 755 "$PROGRAM" "$root/usr/bin/pilotwire"
    for peer in "$HERE"/peers/*.rs; do install -m 755 "$PEERS/$(basename "$peer" .rs)" "$root/usr/bin/"; done
    cp "$HERE/guest/board.sh" "$suite/guest" "$root/board/"
    mkdir -p "$root/etc/pilotwire"
    [ ! -d "$suite/root" ] || cp -r "$suite/root/." "$root/"
}

# As README.md, "On a board", has it.
install_units() {
    local root=$1 units=$REPO/systemd
    mkdir -p "$root"/etc/{sysusers.d,tmpfiles.d,udev/rules.d,systemd/system}
    cp "$units/pilotwire.service" "$units/pilotwire.socket" "$root/etc/systemd/system/"
    cp "$units/sysusers/pilotwire.conf" "$root/etc/sysusers.d/"
    cp "$units/tmpfiles/pilotwire.conf" "$root/etc/tmpfiles.d/"
    cp "$units/udev/60-pilotwire-gpio.rules" "$root/etc/udev/rules.d/"
    mkdir -p "$root/board/drop-ins"
    cp "$units"/pilotwire.service.d/*.conf "$root/board/drop-ins/"
}
