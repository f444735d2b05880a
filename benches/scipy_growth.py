#!/usr/bin/env python3
"""Solves the programmes that `cargo bench --bench growth` wrote by SciPy (HiGHS), beside our times.

    pip install scipy==1.17.1 numpy==2.4.6
    python3 benches/scipy_growth.py target/growth

Each file is one linear programme: least draw on the fuel supply, every demand served, nothing trapped. SciPy's time is of
`linprog` alone, its sparse matrix built beforehand, the best of some runs; ours, read from the file, is of the whole strict
order of objectives on the same plant."""
import json
import math
import pathlib
import sys
import time

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import csc_array


def main(folder):
    print("types   SciPy (ms)   ours (ms)   SciPy/ours   objectives differ by (relative)")
    points = []
    for path in sorted(pathlib.Path(folder).glob("*.json")):
        p = json.loads(path.read_text())
        a = csc_array((p["value"], p["row"], p["start"]), shape=(p["rows"], p["columns"]))
        bounds = [(0, upper) for upper in p["upper"]]
        cost, right = np.array(p["cost"]), np.array(p["right"])
        best = math.inf
        for _ in range(10 if p["columns"] < 3000 else 3):
            start = time.perf_counter()
            answer = linprog(cost, A_eq=a, b_eq=right, bounds=bounds, method="highs")
            best = min(best, time.perf_counter() - start)
        if answer.status != 0:
            sys.exit(f"{path}: {answer.message}")
        apart = abs(answer.fun - p["our_objective_kg_s"]) / max(abs(answer.fun), 1e-12)
        ours = p["our_seconds"]
        print(f"{int(path.stem):>6}  {best * 1e3:>10.2f}  {ours * 1e3:>10.2f}  {best / ours:>11.2f}   {apart:.1e}")
        points.append((math.log(int(path.stem)), math.log(best)))
    if len(points) > 1:
        print(f"log-log slope of SciPy: {np.polyfit(*zip(*points), 1)[0]:.3f}")


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "target/growth")
