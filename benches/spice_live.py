#!/usr/bin/env python3
"""Random links against ngspice, in one run: no stored expectation is read.

Draws links of every family (seed printed), writes a deck for each, runs it in ngspice at a 10 µs
trapezoidal step and again at a 20 µs Gear step, gives the same parameters to
`pilotwire link --batch`, and compares. Where ngspice's two settings disagree by more than a third
of a bound, that figure is left out, and the output says so. Ends with status 1 on a miss.

    cargo build --release && python3 benches/spice_live.py [--seed N] [--count N] [--program PATH]
"""

import argparse
import array
import json
import math
import os
import random
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor

PROGRAM = os.path.join(os.path.dirname(__file__), "..", "target", "release", "pilotwire")
DIODE = {"is": 7.02767e-9, "n": 1.80803, "rs": 0.0341512, "eg": 1.05743, "xti": 5.0}

FAMILIES = [
    "bridge",
    "single diode",
    "dc bridge",
    "dc single diode",
    "dc plain",
    "no capacitor",
    "single diode, no capacitor",
    "dried capacitor",
    "series resistor",
    "leakage, lamps out",
    "chatter-prone",
    "hot",
    "cold",
    "weak",
]

# name: (bound that must hold, aim, what the error refers to)
BOUNDS = {
    "v_dc_mean": (4e-3, 5e-4, "self"),
    "v_dc_trough": (1.3e-2, 1.5e-3, "mean"),
    "i_diode_peak_ss": (4e-2, 5e-3, "self"),
    "t_pull_in_s": (1.0, 1e-4, "time"),
    "t_drop_out_s": (1.0, 1e-4, "time"),
    "i_coil_mean": (4e-3, 5e-4, "self"),
    "i_ac_rms": (4e-2, 5e-3, "self"),
    "v_far_rms": (4e-3, 5e-4, "self"),
}


def draw(rng, number):
    """One link of the family whose turn it is."""
    family = FAMILIES[number % len(FAMILIES)]
    direct = family.startswith("dc")
    bare = "no capacitor" in family or family == "chatter-prone"
    temp = {"hot": rng.uniform(40, 65), "cold": rng.uniform(-30, -5)}.get(family, rng.uniform(5, 30))
    freq = rng.choice([50, 60])
    ohm = rng.choice([50, 75, 155, 160, 270, 400, 720, 1000]) * rng.uniform(0.9, 1.1)
    tau = rng.uniform(0.0018, 0.005)
    operate = rng.uniform(0.5, 0.75) * 12
    release = rng.uniform(0.05, 0.3) * 12
    farad = 10 ** rng.uniform(-4.2, -2.7)
    esr = rng.uniform(0.05, 0.25) * 1e-3 / farad
    if family == "dried capacitor":
        farad, esr = rng.uniform(3e-6, 25e-6), rng.uniform(2, 20)
    if family == "chatter-prone":
        tau, operate, release = rng.uniform(0.0004, 0.0012), rng.uniform(5, 8), rng.uniform(2.5, 4.8)
    if "no capacitor" in family:
        operate, release = rng.uniform(3.0, 7.5), rng.uniform(0.6, 2.0)
    volts = rng.uniform(11.5, 15.5)
    wire = {"awg": rng.choice([14, 16, 18, 20, 22, 24]), "mm2": None}
    if rng.random() < 0.3:
        wire = {"awg": None, "mm2": rng.choice([0.5, 0.75, 1.0, 1.5, 2.5])}
    length = rng.uniform(10, 120)
    if family == "weak":
        wire, length, volts, ohm = {"awg": 24, "mm2": None}, rng.uniform(90, 180), rng.uniform(10, 12.6), rng.uniform(50, 170)
    lamps = None if family == "leakage, lamps out" or rng.random() < 0.15 else rng.uniform(1.2, 6)
    roff = 10 ** rng.uniform(3, 4) if "leakage" in family else rng.choice([1e9, 1e9, 2e4])
    bridge = None if family == "dc plain" else dict(DIODE, temp_c=temp)
    if "single" in family:
        bridge["arrangement"] = "single_diode"
    cap = None if bare else {"c_f": farad, "esr_ohm": esr, "leak_ohm": rng.choice([None, 2e4, 5e3])}
    if family == "dc plain" and cap:
        cap["esr_ohm"] = max(cap["esr_ohm"], 0.05)
    series = rng.uniform(20, 200) if family == "series resistor" else 0.0
    flyback = dict(DIODE) if bridge is None or "single" in family or rng.random() < 0.7 else None
    t_off = 0.02 + rng.uniform(0.35, 0.7)
    # Long enough for most capacitors to let go.
    tail = min(1.5, 0.1 + (0 if bare else 3.0 * farad * (ohm + series)))
    return {
        "id": f"{number:02d} {family}",
        "source": {
            "kind": "dc" if direct else "ac",
            "v_oc": volts,
            "freq_hz": None if direct else freq,
            "phase_on_deg": None if direct else rng.uniform(0, 360),
            "r_src_ohm": rng.uniform(0.02, 0.3),
            "switch_ron_ohm": 0.01,
            "switch_roff_ohm": roff,
        },
        "local_load_ohm": lamps,
        "wire": dict(wire, length_m=length, temp_c=temp, splice_ohm=rng.choice([0, 0.1, 1.0]), strand_factor=1.0),
        "bridge": bridge,
        "cap": cap,
        "r_series_ohm": series,
        "relay": {
            "r20_ohm": ohm,
            "coil_temp_c": temp + rng.uniform(0, 40),
            "l_open_h": tau * ohm,
            "l_closed_h": tau * ohm * rng.uniform(1.4, 1.9),
            "v_nominal": 12.0,
            "v_operate20": operate,
            "v_release20": release,
            "t_close_s": rng.uniform(0.002, 0.008),
            "t_open_s": rng.uniform(0.0015, 0.005),
        },
        "flyback": flyback,
        "t_on": 0.02,
        "t_off": t_off,
        "t_stop": t_off + tail,
    }


def wire_ohm(wire):
    if wire["awg"] is not None:
        area = math.pi / 4 * (0.127e-3 * 92 ** ((36 - wire["awg"]) / 39)) ** 2
    else:
        area = wire["mm2"] * 1e-6
    warm = 1 + 0.00393 * (wire["temp_c"] - 20)
    return 2 * wire["length_m"] * 1.7241e-8 / area * wire["strand_factor"] * warm + wire["splice_ohm"]


def model(name, d):
    return f".model {name} D(IS={d['is']} N={d['n']} RS={d['rs']} EG={d['eg']} XTI={d['xti']} CJO=1.5e-11 TT=0)"


def deck(case, step, method, raw, reltol=1e-4, extra=""):
    """The link as a circuit: flux on a capacitor, armature on another, a logarithmic master switch."""
    s, w, relay = case["source"], case["wire"], case["relay"]
    on, off = case["t_on"], case["t_off"]
    coil = relay["r20_ohm"] * (1 + 0.00393 * (relay["coil_temp_c"] - 20))
    lo, dl = relay["l_open_h"], relay["l_closed_h"] - relay["l_open_h"]
    iop, irel = (relay[k] / relay["r20_ohm"] for k in ("v_operate20", "v_release20"))
    bridge, temp = case["bridge"], (case["bridge"] or {}).get("temp_c", 27)
    lines = ["* link"]
    if s["kind"] == "ac":
        phase = (s["phase_on_deg"] - 360 * s["freq_hz"] * on) % 360
        lines.append(f"Vsrc src 0 SIN(0 {s['v_oc'] * math.sqrt(2):.12g} {s['freq_hz']} 0 0 {phase:.12g})")
    else:
        lines.append(f"Vsrc src 0 DC {s['v_oc']}")
    ron, roff = math.log10(s["switch_ron_ohm"]), math.log10(s["switch_roff_ohm"])
    lines += [
        f"Rsrc src sw {s['r_src_ohm']}",
        f"Vctl ctl 0 PWL(0 9 {on - 1e-6:.9f} 9 {on + 1e-6:.9f} {ron:.9g} {off - 1e-6:.9f} {ron:.9g} {off + 1e-6:.9f} {roff:.9g})",
        "Rmaster sw term R='pow(10,V(ctl))'",
        f"Rwire term far {wire_ohm(w):.12g}",
        "Viac far fa 0",
    ]
    if case["local_load_ohm"] is not None:
        lines.append(f"Rlocal term 0 {case['local_load_ohm']}")
    if bridge is None:
        lines += ["Rthru fa npre 1e-6", "Rthru2 dm 0 1e-6"]
    elif bridge.get("arrangement") == "single_diode":
        lines += ["D1 fa npre DB", "Rthru2 dm 0 1e-6", model("DB", bridge)]
    else:
        lines += ["D1 fa npre DB", "D2 0 npre DB", "D3 dm fa DB", "D4 dm 0 DB", model("DB", bridge), "Rfloat dm 0 1e9"]
    lines.append("Vib npre np 0")
    cap = case["cap"]
    if cap:
        lines += ["Vic np nc 0", f"Resr nc ncc {max(cap['esr_ohm'], 1e-4)}", f"C1 ncc dm {cap['c_f']} IC=0"]
        if cap["leak_ohm"]:
            lines.append(f"Rleak np dm {cap['leak_ohm']}")
    node = "np"
    if case["r_series_ohm"]:
        node = "cc"
        lines.append(f"Rser np cc {case['r_series_ohm']}")
    if case["flyback"]:
        lines += [f"Dfly dm {node} DF", model("DF", case["flyback"])]
    mid, half = (iop + irel) / 2, (iop - irel) / 2
    lines += [
        f"Bcoil {node} dm I=1e-3*V(lam)/({lo}+({dl})*V(p))",
        f"Blam 0 lam I=V({node},dm)-{coil}*1e-3*V(lam)/({lo}+({dl})*V(p))",
        "Clam lam 0 1e-3 IC=0",
        "Rlamx lam 0 1e12",
        f"Bict ict 0 V=V(lam)/({lo}+({dl})*V(p))",
        "Vdd vdd 0 1",
        "Sarm vdd s ict 0 SWA OFF",
        "Rs s 0 1k",
        f".model SWA SW(VT={mid * 1e3:.9g} VH={half * 1e3:.9g} RON=1e-3 ROFF=1e9)",
        f"Bp 0 p I= V(s)>0.5 ? min(1,max(0,(1-V(p))*1000))/{relay['t_close_s']} : -min(1,max(0,V(p)*1000))/{relay['t_open_s']}",
        "Cp p 0 1 IC=0",
        "Rp p 0 1e12",
        f".options TEMP={temp} TNOM=27 METHOD={method} RELTOL={reltol} ABSTOL=1e-12 VNTOL=1e-7 CHGTOL=1e-15 TRTOL=1 {extra}",
        ".save v(term) v(far) v(np) v(dm) v(ict) v(s) v(p) i(vib) i(viac)",
        f".tran {step} {case['t_stop']} 0 {step} UIC",
        ".control",
        "set filetype=binary",
        "run",
        f"write {raw}",
        "rusage trantime",
        "quit",
        ".endc",
        ".end",
    ]
    return "\n".join(lines) + "\n"


def read_raw(path):
    """Columns of a binary raw file by name."""
    with open(path, "rb") as file:
        data = file.read()
    head, body = data.split(b"Binary:\n", 1)
    text = head.decode()
    count = int(text.split("No. Points:")[1].split()[0])
    names = [row.split()[1] for row in text.split("Variables:\n")[1].strip().split("\n")]
    values = array.array("d")
    values.frombytes(body[: 8 * count * len(names)])
    return {name: values[k :: len(names)] for k, name in enumerate(names)}


def mean(t, x, a, b):
    """Time mean over a…b by trapezoids, cut at the ends."""
    total = 0.0
    for k in range(len(t) - 1):
        if t[k + 1] <= a or t[k] >= b:
            continue
        lo, hi, h = max(a, t[k]), min(b, t[k + 1]), t[k + 1] - t[k]
        if h <= 0:
            continue
        at = lambda u: x[k] + (x[k + 1] - x[k]) * (u - t[k]) / h
        total += (hi - lo) * (at(lo) + at(hi)) / 2
    return total / (b - a)


def figures(case, raw):
    """The same figures as our program's, out of ngspice's waveforms."""
    s, t = case["source"], raw["time"]
    on, off = case["t_on"], case["t_off"]
    window = round(0.1 * s["freq_hz"]) / s["freq_hz"] if s["kind"] == "ac" else 0.1
    # Clear of the switching itself, whose first step a trapezoid across it would count in.
    end = off - 5e-5
    start = end - window
    dc = [a - b for a, b in zip(raw["v(np)"], raw["v(dm)"])]
    inside = [k for k in range(len(t)) if start <= t[k] < end]
    pick = lambda f, x: f(x[k] for k in inside)
    ac, far = raw["i(viac)"], raw["v(far)"]
    closed, first, dropped, opens, releases = False, None, None, 0, 0
    p, drive = raw["v(p)"], raw["v(s)"]
    for k in range(1, len(t)):
        if drive[k - 1] > 0.5 >= drive[k] and on < t[k] < off:
            releases += 1
        # The last hundredth of the travel is uniform, too.
        if not closed and p[k] >= 0.99 > p[k - 1]:
            closed = True
            at = t[k - 1] + (t[k] - t[k - 1]) * (0.99 - p[k - 1]) / (p[k] - p[k - 1])
            if first is None:
                first = at + 0.01 * case["relay"]["t_close_s"] - on
        elif closed and p[k] <= 0.01 < p[k - 1]:
            closed = False
            at = t[k - 1] + (t[k] - t[k - 1]) * (0.01 - p[k - 1]) / (p[k] - p[k - 1])
            at += 0.01 * case["relay"]["t_open_s"]
            if at < off:
                opens += 1
            elif dropped is None:
                dropped = at - off
    return {
        "v_dc_mean": mean(t, dc, start, end),
        "v_dc_trough": pick(min, dc),
        "i_diode_peak_ss": pick(max, raw["i(vib)"]),
        # The coil current stands there in mA, to keep its threshold clear of the tolerance.
        "i_coil_mean": 1e-3 * mean(t, raw["v(ict)"], start, end),
        "i_ac_rms": math.sqrt(mean(t, [x * x for x in ac], start, end)),
        "v_far_rms": math.sqrt(mean(t, [x * x for x in far], start, end)),
        "t_pull_in_s": first if first is None or first <= off - on else None,
        "t_drop_out_s": dropped,
        "chatter": opens > 0 or releases > 0,
        "closed_at_end": closed,
    }


def spice(case, step, method, folder, tag):
    name = os.path.join(folder, f"{case['id'][:2]}-{tag}")
    with open(name + ".cir", "w") as file:
        file.write(deck(case, step, method, name + ".raw"))
    done = subprocess.run(["ngspice", "-b", name + ".cir"], capture_output=True, text=True, cwd=folder)
    if not os.path.exists(name + ".raw"):
        return None, done.stdout[-400:] + done.stderr[-400:]
    raw = read_raw(name + ".raw")
    os.remove(name + ".raw")
    if raw["time"][-1] < case["t_stop"] - 1e-6:
        return None, f"stopped at {raw['time'][-1]:.6f} s"
    return figures(case, raw), ""


def error(name, ours, theirs, reference):
    kind = BOUNDS[name][2]
    if kind == "time":
        return abs(ours - theirs)
    scale = abs(reference["v_dc_mean"]) if kind == "mean" else abs(theirs)
    return abs(ours - theirs) / max(scale, 1e-9)


def must(name, theirs):
    bound, _, kind = BOUNDS[name]
    return max(5e-4, 5e-3 * theirs) if kind == "time" else bound


def outcome(found):
    return tuple([found["t_pull_in_s"] is not None, found["t_drop_out_s"] is not None, found["chatter"], found["closed_at_end"]])


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--seed", type=int, default=int.from_bytes(os.urandom(4), "big"))
    parser.add_argument("--count", type=int, default=42)
    parser.add_argument("--program", default=PROGRAM)
    parser.add_argument("--verbose", action="store_true")
    options = parser.parse_args()
    print(f"seed {options.seed}, {options.count} links")
    rng = random.Random(options.seed)
    cases = [draw(rng, number) for number in range(options.count)]

    lines = "".join(json.dumps(case) + "\n" for case in cases)
    run = subprocess.run([options.program, "link", "--batch"], input=lines, capture_output=True, text=True, check=True)
    ours = [json.loads(line) for line in run.stdout.splitlines()]
    assert [o["id"] for o in ours] == [c["id"] for c in cases], "order"

    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(os.cpu_count()) as pool:
        fine = list(pool.map(lambda c: spice(c, 1e-5, "trap", folder, "a"), cases))
        check = list(pool.map(lambda c: spice(c, 2e-5, "gear", folder, "b"), cases))

    worst = {name: (0.0, "-") for name in BOUNDS}
    compared, in_aim = {name: 0 for name in BOUNDS}, {name: 0 for name in BOUNDS}
    misses, unsure = [], []
    for case, our, (ref, why), (second, _) in zip(cases, ours, fine, check):
        if ref is None or second is None:
            unsure.append(f"{case['id']}: ngspice gave up: {why}")
            continue
        if "error" in our:
            misses.append(f"{case['id']}: {our['error']}")
            continue
        if outcome(ref) != outcome(second):
            unsure.append(f"{case['id']}: ngspice's settings disagree on the outcome")
            continue
        if outcome(our) != outcome(ref):
            misses.append(f"{case['id']}: outcome {outcome(our)}, ngspice {outcome(ref)}")
            continue
        for name in BOUNDS:
            if ref[name] is None or name not in our or (ref["chatter"] and name != "t_pull_in_s"):
                continue
            bound = must(name, ref[name])
            if error(name, second[name], ref[name], ref) > bound / 3:
                unsure.append(f"{case['id']}: ngspice's settings disagree on {name}: {ref[name]:.6g} {second[name]:.6g}")
                continue
            off = error(name, our[name], ref[name], ref)
            compared[name] += 1
            in_aim[name] += off <= BOUNDS[name][1]
            if options.verbose:
                print(f"{case['id']:32} {name:18} {our[name]:12.6g} {ref[name]:12.6g} {off:.2e}")
            if off > worst[name][0]:
                worst[name] = (off, case["id"])
            if off > bound:
                misses.append(f"{case['id']}: {name} {our[name]:.6g}, ngspice {ref[name]:.6g}, off by {off:.2e}")
    held = sum(outcome(r) == (True, True, False, False) for r, _ in fine if r)
    print(f"outcomes: {held} in and out, {sum(r['chatter'] for r, _ in fine if r)} chatter, "
          f"{sum(r['t_pull_in_s'] is None for r, _ in fine if r)} stay out, "
          f"{sum(r['closed_at_end'] for r, _ in fine if r)} held at the end")
    print(f"{'figure':18} {'worst':>9}  {'in aim':>8}  worst link")
    for name, (off, who) in worst.items():
        print(f"{name:18} {off:9.2e}  {in_aim[name]:3d}/{compared[name]:3d}   {who}")
    for line in unsure:
        print("not compared:", line)
    for line in misses:
        print("MISS", line)
    if misses:
        sys.exit(1)
    print("all within the bounds")


if __name__ == "__main__":
    main()
