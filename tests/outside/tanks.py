#!/usr/bin/env python3
"""Makes tanks.json: 1,000 random tank systems with their exact events, one system a line.

    pip install scipy==1.17.1 numpy==2.4.6
    python3 tanks.py > tanks.json

It calls `reference.py`, the independent reference model beside it, as

    python3 reference.py gen tank 0 1000 | python3 reference.py solve

which reckons in exact fractions. Kept are the problem, the switch events (minutes, as the nearest double; pump k on is 2k,
off is 2k+1) and the totals (m3, min)."""
import json

import reference


def compact(problem, answer):
    code = {f"pump{k}_{what}": 2 * k + off for k in range(2) for off, what in enumerate(["on", "off"])}
    return {
        "seed": problem["seed"],
        "horizon": problem["horizon"],
        "tanks": [[tank["cap"], tank["v0"]] for tank in problem["tanks"]],
        "sources": [[s["tank"], s["rate"], s["period"], s["on"], s["offset"]] for s in problem["sources"]],
        "pumps": [[p["frm"], p["to"], p["rate"], p["ctl_tank"], p["on_at"], p["off_at"]] for p in problem["pumps"]],
        "at": [time for time, _ in answer["events"]],
        "what": [code[what] for _, what in answer["events"]],
        "final": answer["final_level"],
        "least": answer["min_level"],
        "greatest": answer["max_level"],
        "spilled": answer["spilled"],
        "pumped": answer["pumped"],
        "run": answer["pump_run_time"],
        "empty": answer["time_empty"],
        "ties": len(answer["ties"]),
    }


def main():
    problems = [reference.gen_tank(seed) for seed in range(1000)]
    lines = [json.dumps(compact(p, reference.solve_tank(p)), separators=(",", ":")) for p in problems]
    print("[" + ",\n".join(lines) + "]")


if __name__ == "__main__":
    main()
