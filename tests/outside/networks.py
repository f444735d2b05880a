#!/usr/bin/env python3
"""Makes networks.json: 1,000 random networks with their optima by SciPy (HiGHS), one network a line.

    pip install scipy==1.17.1 numpy==2.4.6 highspy==1.16.0
    python3 networks.py > networks.json

It calls `reference.py`, the independent reference model beside it, as

    python3 reference.py gen network 0 1000 | python3 reference.py solve

and keeps what the tests compare: the problem, the objective, the objective of the relaxation and its dual prices.
One optimal point is dropped, for optima need not be unique."""
import json

import reference


def compact(problem, answer):
    return {
        "seed": problem["seed"],
        "integer": problem["integer"],
        "materials": problem["materials"],
        "units": [
            {
                "id": unit["id"],
                "takes": unit["inputs"],
                "gives": unit["outputs"],
                "most": unit["max_activity"],
                "cost": unit["cost"],
            }
            for unit in problem["units"]
        ],
        "supply": problem["supply"],
        "demand": problem["demand"],
        "objective": answer["objective"],
        "lp_objective": answer["lp_objective"],
        "lp_price": answer["lp_price"],
    }


def main():
    problems = [reference.gen_network(seed) for seed in range(1000)]
    lines = [json.dumps(compact(p, reference.solve_network(p)), separators=(",", ":")) for p in problems]
    print("[" + ",\n".join(lines) + "]")


if __name__ == "__main__":
    main()
