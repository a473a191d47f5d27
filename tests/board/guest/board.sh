# For the suites' guest scripts: checks that count, and simulated GPIO chips.

passed=0
failed=0

# check NAME GOT WANTED
check() {
    if [ "$2" = "$3" ]; then
        passed=$((passed + 1))
        echo "ok   $1: $2"
    else
        failed=$((failed + 1))
        echo "FAIL $1: got '$2', wanted '$3'"
    fi
}

# holds NAME COMMAND...: the command succeeds.
holds() {
    name=$1
    shift
    if "$@" >/tmp/holds 2>&1; then
        passed=$((passed + 1))
        echo "ok   $name"
    else
        failed=$((failed + 1))
        echo "FAIL $name: $(busybox tail -1 /tmp/holds)"
    fi
}

# at_most NAME NUMBER LIMIT UNIT
at_most() {
    if busybox awk "BEGIN { exit !($2 <= $3) }"; then
        passed=$((passed + 1))
        echo "ok   $1: $2 $4 (at most $3)"
    else
        failed=$((failed + 1))
        echo "FAIL $1: $2 $4, at most $3"
    fi
}

note() { echo "    $*"; }

# The last line of every suite.
conclude() {
    note "$passed passed, $failed failed"
    echo "RC=$failed"
}

# A word that the host has put on the kernel's command line: word acked
word() { busybox sed -n "s/.*board\.$1=\([^ ]*\).*/\1/p" /proc/cmdline; }

# since boot [s]
uptime_s() { busybox cut -d' ' -f1 /proc/uptime; }

# wait_until SECONDS COMMAND...: tries ten times a second.
wait_until() {
    tries=$(($1 * 10))
    shift
    while ! "$@" >/dev/null 2>&1; do
        tries=$((tries - 1))
        [ $tries -gt 0 ] || return 1
        busybox usleep 100000
    done
}

# chip LABEL LINE...: a simulated chip with these named lines. Sets SIM to its folder in /sys, CHIP_BASE to the
# number of its first line as the kernel's traces count.
chip() {
    busybox insmod /mod/configfs.ko 2>/dev/null
    busybox insmod /mod/gpio-sim.ko 2>/dev/null
    busybox grep -q configfs /proc/mounts || busybox mount -t configfs config /sys/kernel/config
    config=/sys/kernel/config/gpio-sim/$1
    busybox mkdir -p $config/bank
    echo $(($# - 1)) >$config/bank/num_lines
    echo $1 >$config/bank/label
    shift
    i=0
    for line in "$@"; do
        busybox mkdir $config/bank/line$i
        echo $line >$config/bank/line$i/name
        i=$((i + 1))
    done
    echo 1 >$config/live
    SIM=/sys/devices/platform/$(busybox cat $config/dev_name)/$(busybox cat $config/bank/chip_name)
    CHIP_BASE=$(busybox cat ${SIM%/*}/gpio/gpiochip*/base)
}

# line OFFSET: 1 if the chip sees it high, whoever drives it.
line() { busybox cat $SIM/sim_gpio$1/value; }

# line_is OFFSET LEVEL
line_is() { [ "$(line $1)" = "$2" ]; }

# pull OFFSET up|down: what is outside the chip pulls the line so.
pull() { echo pull-$2 >$SIM/sim_gpio$1/pull; }

# From here on the kernel writes down every change of a line, with its own time of it.
trace_lines() {
    T=/sys/kernel/tracing
    busybox grep -q tracefs /proc/mounts || busybox mount -t tracefs trace $T
    echo mono >$T/trace_clock
    echo 1 >$T/events/gpio/gpio_value/enable
    echo 1 >$T/tracing_on
}

# forget_trace: before the next change of interest.
forget_trace() { echo >/sys/kernel/tracing/trace; }
