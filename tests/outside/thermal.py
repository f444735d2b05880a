#!/usr/bin/env python3
"""Makes thermal.json: 1,000 random systems of zones with thermostats and what happens in them, one system a line.

    pip install scipy==1.17.1 numpy==2.4.6
    python3 thermal.py > thermal.json

Problems and rules are those of `reference.py`, family `thermal`. Its own answers come from solve_ivp and are good to about a
microsecond; here each segment goes by eigenvectors on a grid of 2,000 points, and each crossing and each extreme is then refined
by brentq on the matrix exponential (scipy.linalg.expm), to 1e-12. Held against solve_ivp by `--check N`."""
import json
import sys

import numpy as np
from scipy.linalg import expm
from scipy.optimize import brentq

import reference

POINTS = 2000


def segment(A, b, T, t, e, targets):
    """As reference.seg_expm, exact: end time, temperatures there, who switched, least and greatest of each zone."""
    steady = np.linalg.solve(A, -b)
    w, V = np.linalg.eig(A)
    part = np.linalg.solve(V, T - steady)
    grid = np.linspace(0, e - t, POINTS)
    Y = np.real((V * part) @ np.exp(np.outer(w, grid))).T + steady
    at = lambda h: steady + expm(A * h) @ (T - steady)
    slope = lambda h: A @ at(h) + b
    best, hit = e - t, None
    for i, target in enumerate(targets):
        if target is None:
            continue
        level, way = target
        d = (Y[:, i] - level) * way
        k = np.nonzero((d[1:] >= 0) & (d[:-1] < 0))[0]
        if len(k):
            h = brentq(lambda h: at(h)[i] - level, grid[k[0]], grid[k[0] + 1], xtol=1e-12, rtol=1e-15)
            if h < best:
                best, hit = h, i
    end = at(best)
    low, high = np.minimum(T, end), np.maximum(T, end)
    S = (A @ Y.T).T + b
    for i in range(len(T)):
        for k in np.nonzero((S[1:, i] > 0) != (S[:-1, i] > 0))[0]:
            if slope(grid[k])[i] * slope(grid[k + 1])[i] >= 0:
                continue
            h = brentq(lambda h: slope(h)[i], grid[k], grid[k + 1], xtol=1e-12, rtol=1e-15)
            if h < best:
                low[i], high[i] = min(low[i], at(h)[i]), max(high[i], at(h)[i])
    return (e if hit is None else t + best), end, hit, low, high


def short(numbers):
    return [float(f"{x:.12g}") for x in numbers]


def compact(p, a):
    return {
        "seed": p["seed"], "outside_c": p["T_out"], "horizon_s": p["horizon"], "square": p["square"],
        "links": [[l["a"], l["b"], l["UA"]] for l in p["links"]],
        "zones": [[z["C"], z["UA_out"], z["T0"], z["heater_W"], z["T_on"], z["T_off"], z["gain_W"]] for z in p["zones"]],
        # Seconds to the nanosecond, and the zone counted from 1, negative where its heater stops.
        "events": [[round(t, 9), (int(name[6]) + 1) * (1 if name.endswith("on") else -1)] for t, name in a["events"]],
        "end_c": short(a["final_T"]), "heater_j": short(a["heater_J"]),
        "least_c": short(a["min_T"]), "greatest_c": short(a["max_T"]),
    }


def main(args):
    if args[:1] == ["--check"]:
        worst = [0.0, 0.0]
        for seed in range(int(args[1])):
            p = reference.gen_thermal(seed)
            a, b = reference.run_thermal(p, segment), reference.solve_thermal(p)
            assert [x[1] for x in a["events"]] == [x[1] for x in b["events"]], seed
            worst[0] = max([worst[0]] + [abs(x[0] - y[0]) for x, y in zip(a["events"], b["events"])])
            worst[1] = max([worst[1]] + [abs(x - y) for x, y in zip(a["final_T"], b["final_T"])])
        print(f"against solve_ivp: event times {worst[0]:.1e} s, temperatures {worst[1]:.1e} K")
        return
    problems = [reference.gen_thermal(seed) for seed in range(1000)]
    lines = [json.dumps(compact(p, reference.run_thermal(p, segment)), separators=(",", ":")) for p in problems]
    print("[" + ",\n".join(lines) + "]")


if __name__ == "__main__":
    main(sys.argv[1:])
