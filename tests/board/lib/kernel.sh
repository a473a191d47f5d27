# Debian's kernel, uncompressed, and its GPIO simulator, which Debian leaves out, as a module.

kernel_version() { cat "$BOARD_DIR/kernel-version"; }

unpack_kernel() {
    local version folder=$BOARD_DIR/kernel
    version=$(kernel_version)
    rm -rf "$folder"
    mkdir -p "$folder"
    dpkg-deb --fsys-tarfile "$(package "linux-image-$version")" | tar -x -C "$folder" --wildcards './boot/vmlinuz-*' \
        './lib/modules/*/kernel/fs/configfs/*' './lib/modules/*/kernel/fs/ext4/*' './lib/modules/*/kernel/fs/jbd2/*' \
        './lib/modules/*/kernel/fs/mbcache.ko' './lib/modules/*/kernel/lib/crc16.ko' './lib/modules/*/kernel/crypto/crc32c_generic.ko' \
        './lib/modules/*/kernel/fs/autofs/*' './lib/modules/*/kernel/drivers/virtio/*' './lib/modules/*/kernel/drivers/block/virtio_blk.ko'
    uncompress_kernel "$folder/boot/vmlinuz-$version" >"$folder/vmlinux"
}

# QEMU starts an uncompressed kernel by its PVH entry: three seconds of unpacking less, since every
# instruction is emulated. Fields of the header: the kernel's Documentation/x86/boot.rst.
uncompress_kernel() {
    local file=$1 offset length unpack
    number() { od -An -tu"$2" -j$(($1)) -N"$2" "$file" | tr -d ' '; }
    offset=$((($(number 0x1f1 1) + 1) * 512 + $(number 0x248 4)))
    length=$(number 0x24c 4)
    case $(od -An -tx1 -j$offset -N4 "$file" | tr -d ' ') in
    fd377a58) unpack="xz -dc --single-stream" ;;
    28b52ffd) unpack="zstd -dcq" ;;
    1f8b*) unpack="gzip -dc" ;;
    *) fail "the kernel is packed in an unknown way" ;;
    esac
    # The last four bytes are the length when unpacked.
    dd if="$file" iflag=skip_bytes,count_bytes skip=$offset count=$((length - 4)) bs=1M status=none | $unpack
}

build_gpio_sim() {
    local version headers=$BOARD_DIR/headers sources=$BOARD_DIR/sources module=$BOARD_DIR/module file
    version=$(kernel_version)
    rm -rf "$headers" "$sources" "$module"
    unpack "$headers" "linux-headers-$version" "linux-headers-${version%-amd64}-common" linux-kbuild-6.1
    sed -i "s#/usr/src/#$headers/usr/src/#" "$headers/usr/src/linux-headers-$version/Makefile"
    mkdir -p "$sources" "$module"
    # tar stops at the third file, so the pipe breaks: what counts is that all three are there.
    { dpkg-deb --fsys-tarfile "$(package linux-source-6.1)" | tar -xO ./usr/src/linux-source-6.1.tar.xz |
        tar -xJ -C "$sources" --strip-components=1 --occurrence=1 linux-source-6.1/drivers/gpio/gpio-sim.c \
            linux-source-6.1/drivers/gpio/gpiolib.h linux-source-6.1/kernel/irq/irq_sim.c; } 2>/dev/null || true
    for file in drivers/gpio/gpio-sim.c drivers/gpio/gpiolib.h kernel/irq/irq_sim.c; do
        [ -s "$sources/$file" ] || fail "no $file in the kernel's sources"
    done
    cp "$sources/drivers/gpio/gpio-sim.c" "$module/gpio_sim_main.c"
    cp "$sources/drivers/gpio/gpiolib.h" "$sources/kernel/irq/irq_sim.c" "$module/"
    # irq_to_desc() is not exported to modules; this is the same descriptor by functions that are.
    sed -i 's/irq_to_desc(irqnum)/irq_data_to_desc(irq_get_irq_data(irqnum))/' "$module/irq_sim.c"
    printf 'obj-m := gpio-sim.o\ngpio-sim-y := gpio_sim_main.o irq_sim.o\n' >"$module/Makefile"
    make -C "$headers/usr/src/linux-headers-$version" M="$module" -j2 modules >"$BOARD_DIR/log/module" 2>&1 || { tail -20 "$BOARD_DIR/log/module"; fail "gpio-sim does not build"; }
    strip --strip-debug -o "$module/stripped.ko" "$module/gpio-sim.ko"
}
