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

# has NAME TEXT PART: the text has that part.
has() {
    case "$2" in
    *"$3"*)
        passed=$((passed + 1))
        echo "ok   $1: $3"
        ;;
    *)
        failed=$((failed + 1))
        echo "FAIL $1: no '$3' in:"
        echo "$2" | busybox sed 's/^/     | /'
        ;;
    esac
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
    plug
}

# plug: the chip, again if it was unplugged: it may come back under another name.
plug() {
    echo 1 >$config/live
    SIM=/sys/devices/platform/$(busybox cat $config/dev_name)/$(busybox cat $config/bank/chip_name)
    CHIP_BASE=$(busybox cat ${SIM%/*}/gpio/gpiochip*/base)
}

# unplug: the chip.
unplug() { echo 0 >$config/live; }

# line OFFSET: 1 if the chip sees it high, from whichever side it is driven.
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

SOCKET=/run/pilotwire/control.sock

# yard [KEY...]: the head of a site file, with these lines in `[daemon]`.
yard() {
    printf '[site]\nname = "Home"\nlatitude = 51.5\nlongitude = -0.1\ntimezone = "Europe/London"\n'
    printf '[[supply]]\nname = "house"\nkind = "transformer"\nno_load_voltage = "13.0 V"\nrated_load = "150 VA"\n'
    [ $# = 0 ] || printf '[daemon]\n'
    [ $# = 0 ] || printf '%s\n' "$@"
}

# zone NAME ON OFF [LINE]: with an output, if a line of the chip `yard` is named.
zone() {
    printf '[[zone]]\nname = "%s"\nsupply = "house"\non = "%s"\noff = "%s"\n' $1 $2 $3
    [ -z "$4" ] || printf '[[output]]\nzone = "%s"\nchip = "yard"\nline = "%s"\n' $1 $4
}

# start SITE: the service without systemd, until it drives. Sets SERVICE to its process; its log is /tmp/log.
start() {
    busybox mkdir -p /run/pilotwire /var/lib/pilotwire
    : >/tmp/log
    pilotwire run $1 2>>/tmp/log &
    SERVICE=$!
    wait_until 10 logged "started" || note "the service does not start: $(busybox tail -3 /tmp/log)"
}

# stop: and waits until it has ended.
stop() {
    kill $SERVICE
    wait $SERVICE
}

# logged TEXT: how often this is in the log; success if it is.
logged() { busybox grep -c -e "$1" /tmp/log; }

# says ZONE KEY: one value of what `status` says of a zone.
says() {
    pilotwire status --format json --socket $SOCKET | busybox awk -v zone="\"$1\"," -v key="\"$2\":" '
        $1 == "\"zone\":" { here = $2 == zone }
        here && $1 == key { sub(/^[^:]*: */, ""); sub(/,$/, ""); gsub(/"/, ""); print; exit }'
}

# says_is ZONE KEY VALUE
says_is() { [ "$(says $1 $2)" = "$3" ]; }

# clock: what `status` says of the clock.
clock() { pilotwire status --format json --socket $SOCKET | busybox sed -n 's/^  "clock": "\(.*\)",$/\1/p'; }

# set_clock TIME: in UTC.
set_clock() { busybox date -u -s "$1" >/dev/null; }
