#!/usr/bin/env python3
"""Solves tank systems by SciPy's `solve_ivp` with events and sets its time beside ours.

    pip install scipy==1.17.1 numpy==2.4.6
    cargo bench --no-default-features --bench rehearsal
    python3 benches/scipy_rehearsal.py target/rehearsal [HOW MANY]

The same system, piece by piece: between events the right-hand side is constant, and each level that matters (empty, full, a
switch that may act) is a terminal event. Method and tolerances (DOP853, rtol 1e-10, atol 1e-11) reach the accuracy of ours,
which is checked: the final levels must agree to 1e-6 m3. Systems with exact ties are left out, since floats cannot decide
them. Both times are of one thread; ours is the median of five runs, SciPy's one run."""
import json
import statistics
import sys
import time

import numpy as np
from scipy.integrate import solve_ivp


def on(source, t):
    _, _, period, length, offset = source
    return t >= offset and (t - offset) % period < length - 1e-9


def rates(system, pinned, running, t):
    """Net rate of each tank: pumps in order, upstream to downstream."""
    n = len(system["tanks"])
    inflow, outflow = [0.0] * n, [0.0] * n
    for source in system["sources"]:
        if on(source, t):
            inflow[source[0]] += source[1]
    for k, (frm, to, rate, *_rest) in enumerate(system["pumps"]):
        x = rate if running[k] else 0.0
        if pinned[frm] == "empty":
            x = min(x, inflow[frm])
        outflow[frm] += x
        if to is not None:
            inflow[to] += x
    net = [i - o for i, o in zip(inflow, outflow)]
    return [0.0 if (p == "full" and x > 0) or (p == "empty" and x < 0) else x for p, x in zip(pinned, net)]


def switch(system, v, running):
    for k, (_f, _t, _r, tank, start, stop) in enumerate(system["pumps"]):
        level, up = v[tank], start > stop
        if not running[k] and (level >= start - 1e-9 if up else level <= start + 1e-9):
            running[k] = True
        elif running[k] and (level <= stop + 1e-9 if up else level >= stop - 1e-9):
            running[k] = False


def solve(system):
    horizon = float(system["horizon"])
    edges = sorted({float(e) for _, _, period, length, offset in system["sources"]
                    for k in range(int(horizon // period) + 2) for e in (offset + k * period, offset + k * period + length)
                    if 0 < e < horizon} | {horizon})
    v = np.array([float(level) for _, level in system["tanks"]])
    capacity = [float(c) for c, _ in system["tanks"]]
    running = [False] * len(system["pumps"])
    switch(system, v, running)
    t = 0.0
    for edge in edges:
        while t < edge - 1e-12:
            pinned = ["empty" if x <= 1e-9 else "full" if x >= c - 1e-9 else None for x, c in zip(v, capacity)]
            net = np.array(rates(system, pinned, running, t))
            events = []
            for i, c in enumerate(capacity):
                levels = [0.0, c]
                for k, (_f, _t, _r, tank, start, stop) in enumerate(system["pumps"]):
                    if tank == i:
                        levels.append(float(stop if running[k] else start))
                for level in levels:
                    if net[i] and (level - v[i]) / net[i] > 1e-9:
                        event = lambda _s, y, i=i, level=level: y[i] - level
                        event.terminal = True
                        events.append(event)
            run = solve_ivp(lambda _s, _y: net, (t, edge), v, method="DOP853", rtol=1e-10, atol=1e-11, events=events or None)
            t, v = float(run.t[-1]), run.y[:, -1]
            switch(system, v, running)
        t = edge
    return v


def main():
    systems = json.load(open(f"{sys.argv[1]}/tanks.json"))
    many = int(sys.argv[2]) if len(sys.argv) > 2 else 50
    ratios, worst = [], 0.0
    for system in [s for s in systems if not s["ties"]][:many]:
        start = time.perf_counter()
        final = solve(system)
        spent = time.perf_counter() - start
        worst = max(worst, max(abs(a - b) for a, b in zip(final, system["our_final"])))
        ratios.append(spent / system["our_s"])
    ratios.sort()
    print(f"{len(ratios)} systems: SciPy takes {statistics.median(ratios):.0f} times as long at the median, "
          f"{ratios[0]:.0f} at least, {ratios[-1]:.0f} at most; final levels differ by at most {worst:.1e} m3")


if __name__ == "__main__":
    main()
