#!/usr/bin/env python3
"""Times SciPy's solve_ivp with events on the random systems of tests/outside/thermal.json, at about our accuracy.

    pip install scipy==1.17.1 numpy==2.4.6
    python3 benches/solve_ivp.py [N]

Each segment between switchings is one call with terminal events, DOP853 at rtol 1e-10, as `reference.py` does it; its steps are
not held short, so that the time is that of solve_ivp and not of caution."""
import pathlib
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent.parent / "tests" / "outside"))
import numpy as np
from scipy.integrate import solve_ivp

import reference


def segment(A, b, T, t, e, targets):
    events, who = [], []
    for i, target in enumerate(targets):
        if target is None:
            continue
        f = lambda s, y, i=i, level=target[0]: y[i] - level
        f.terminal, f.direction = True, target[1]
        events.append(f)
        who.append(i)
    s = solve_ivp(lambda s, y: A @ y + b, (t, e), T, method="DOP853", rtol=1e-10, atol=1e-11, events=events)
    hit = next((who[k] for k, te in enumerate(s.t_events or []) if len(te)), None)
    return float(s.t[-1]), s.y[:, -1].copy(), hit, s.y.min(1), s.y.max(1)


def main(count):
    problems = [reference.gen_thermal(seed) for seed in range(count)]
    start = time.perf_counter()
    events = sum(len(reference.run_thermal(p, segment)["events"]) for p in problems)
    spent = time.perf_counter() - start
    print(f"{count} systems, {events} switchings: {spent * 1e3:.1f} ms, {spent / count * 1e3:.2f} ms a system")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
