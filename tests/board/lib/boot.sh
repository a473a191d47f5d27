# Booting a suite's guest, once or several times from the same disk, and listening to it.

GUEST=
stop_guest() {
    [ -z "$GUEST" ] || { kill -9 "$GUEST"; wait "$GUEST"; } 2>/dev/null || true
    GUEST=
}

# A suite's `host` sets these, and may define `course` to boot more than once.
run_suite() (
    suite=$1
    kind=busybox       # or systemd
    limit=240          # seconds of this machine, which may be busy
    memory=384         # MB
    processors=1
    journal=           # `yes`: ext4 with its journal, for power cuts
    lapse=             # an instant in UTC: time runs from there, and idle time is skipped
    lapse_shift=4      # then an instruction takes 2^shift ns: 4 is a slow board, and quick to wait for
    rtc=               # what the battery clock says at boot, if not the hour
    kernel_words=
    course() { boot; }
    furnish_more() { :; } # furnish_more ROOT
    boots=0
    trap stop_guest EXIT
    rm -f "$BOARD_DIR/log/$suite"-*.log
    # shellcheck disable=SC1090
    . "$HERE/suites/$suite/host"
    make_disk
    course
)

make_disk() {
    local root=$WORK/root features=^has_journal,^metadata_csum
    rm -rf "$root" "$WORK/disk" "$WORK/ramdisk"
    cp -a "$BOARD_DIR/$kind" "$root"
    furnish "$root" "$suite"
    furnish_more "$root"
    if [ "$kind" = busybox ]; then
        pack "$root" "$WORK/ramdisk"
    else
        install_units "$root"
        chown -R 0:0 "$root"
        [ -z "$journal" ] || features=has_journal,metadata_csum
        truncate -s 256M "$WORK/disk"
        mkfs.ext4 -q -F -O "$features" -d "$root" "$WORK/disk"
    fi
}

# boot [WORD...]: to the end, with these words on the kernel's command line.
boot() {
    start_guest "$@"
    local start=$SECONDS
    while guest_runs; do
        [ $((SECONDS - start)) -lt "$limit" ] || { stop_guest; tell; return 124; }
        pause
    done
    tell
    result
}

# boot_and_cut PATTERN COUNT [WORD...]: until the guest has printed PATTERN that often; then its power is cut.
boot_and_cut() {
    local pattern=$1 count=$2 start=$SECONDS
    shift 2
    start_guest "$@"
    while [ "$(grep -c "$pattern" "$log")" -lt "$count" ]; do
        guest_runs || { tell; say "the guest ended before its power was cut"; return 99; }
        [ $((SECONDS - start)) -lt "$limit" ] || { stop_guest; tell; return 124; }
        pause
    done
    # QEMU is gone with all that the guest had in memory. What the guest had handed to its drive stays.
    stop_guest
    tell
}

# Every instruction is emulated, so nothing is done that no suite asks for: the kernel's tests of its own ciphers are
# half of a boot, and what it tidies up two to four times a second is most of what an idle hour costs.
LEAN="cryptomgr.notests sysctl.vm.compaction_proactiveness=0 sysctl.vm.stat_interval=3600"

start_guest() {
    local arguments=()
    boots=$((boots + 1))
    log=$BOARD_DIR/log/$suite-$boots.log
    : >"$log"
    if [ "$kind" = busybox ]; then
        arguments+=(-initrd "$WORK/ramdisk")
    else
        arguments+=(-initrd "$BOARD_DIR/first.ramdisk" -device virtio-blk-pci,drive=disk
            -drive "if=none,id=disk,format=raw,cache=writethrough,file=$WORK/disk")
        set -- systemd.unit=board.target systemd.show_status=0 systemd.log_level=notice apparmor=0 "$@"
    fi
    if [ -n "$lapse" ]; then
        arguments+=(-icount "shift=$lapse_shift,sleep=off" -rtc "base=$lapse,clock=vm")
        set -- tsc=reliable nowatchdog "$@"
    elif [ -n "$rtc" ]; then
        arguments+=(-rtc "base=$rtc")
    fi
    # TCG, said outright: where /dev/kvm opens but no guest runs, as in some virtual machines, a fallback would
    # hang. q35, because microvm did not always start with an uncompressed kernel.
    # `env` becomes QEMU, so that GUEST is its process.
    env LD_LIBRARY_PATH="$(qemu_libraries)" "$BOARD_DIR/qemu/usr/bin/qemu-system-x86_64" -L "$BOARD_DIR/qemu/usr/share/qemu" -L "$BOARD_DIR/qemu/usr/share/seabios" \
        -accel tcg -M q35 -m "$memory" -smp "$processors" -nodefaults -no-reboot -display none -nic none -serial stdio \
        -kernel "$BOARD_DIR/kernel/vmlinux" -append "console=ttyS0 quiet panic=-1 mitigations=off nokaslr random.trust_cpu=on \
audit=0 selinux=0 lsm=capability board.boot=$boots $LEAN $kernel_words $*" "${arguments[@]}" </dev/null >"$log" 2>&1 &
    GUEST=$!
}

guest_runs() { [ -n "$GUEST" ] && kill -0 "$GUEST" 2>/dev/null; }

pause() { sleep 0.05; }

# What the guest has printed: its checks, or all of it.
tell() {
    tr -d '\r' <"$log" >"$log.clean"
    mv "$log.clean" "$log"
    if [ -n "$VERBOSE" ]; then cat "$log"; else grep -E '^(ok  |FAIL|   )' "$log" || true; fi
}

# What the guest says of itself in its last line, RC=n.
result() {
    local code
    wait "$GUEST" 2>/dev/null || true
    GUEST=
    code=$(sed -n 's/^RC=\([0-9]*\)$/\1/p' "$log" | tail -1)
    [ -n "$code" ] || { say "the guest never said how it went; its last lines:"; tail -5 "$log"; }
    return "${code:-99}"
}
