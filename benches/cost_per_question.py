"""What a request costs in processor time, by question, over HTTP: `python3 benches/cost_per_question.py target/release/hotwell`.

It is the time that the process was running, as Linux counts it, divided by the requests: other work on the machine hardly
changes it, as it does the time on the wall. One client asks on one connection, so the cost of a wake-up is in it each time.
"""
import http.client
import os
import pathlib
import subprocess
import sys
import time

PORT = 18731
SECONDS = 4.0
PLANS = pathlib.Path(__file__).resolve().parent.parent / "examples"
TICK = os.sysconf("SC_CLK_TCK")

ASKED = [
    ("health", "GET", "/healthz", None),
    ("a sum as a line", "GET", "/v1/sums/units-needed.txt?flow=2.5kg/s&each=300g/s", None),
    ("a sum as JSON", "GET", "/v1/sums/units-needed?flow=2.5kg/s&each=300g/s", None),
    ("flow balance of a hall, as a line", "POST", "/v1/flow-balance.txt", "plans/burner-hall.json"),
    ("flow balance of a hall, as JSON", "POST", "/v1/flow-balance", "plans/burner-hall.json"),
    ("flow balance of a hall, as SVG", "POST", "/v1/flow-balance.svg", "plans/burner-hall.json"),
    ("heat budget of a hall, as a line", "POST", "/v1/heat-budget.txt", "plans/cooled-hall.json"),
    ("fill level of a battery bank over 30 days, as a line", "POST", "/v1/fill-level.txt", "plans/battery-bands.json"),
    ("whole plan of a hall, as a line", "POST", "/v1/plan.txt", "plans/burner-hall.json"),
    ("whole plan of a station over 50 days, as a line", "POST", "/v1/plan.txt", "plans/kestrel-deep.json"),
    ("whole plan of a station over 50 days, as JSON", "POST", "/v1/plan", "plans/kestrel-deep.json"),
    ("whole plan of a station over 50 days, as PNG", "POST", "/v1/plan.png", "plans/kestrel-deep.json"),
]


def spent(pid):
    """Processor time of a process so far, in seconds."""
    fields = pathlib.Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / TICK


def memory(pid):
    """The most memory it has held, in MiB."""
    status = pathlib.Path(f"/proc/{pid}/status").read_text()
    return int(status.split("VmHWM:")[1].split()[0]) / 1024


def main():
    server = subprocess.Popen(
        [sys.argv[1], "--listen", f"127.0.0.1:{PORT}", "--log", "error"],
        stdout=subprocess.DEVNULL,
    )
    try:
        for _ in range(200):
            try:
                connection = http.client.HTTPConnection("127.0.0.1", PORT)
                connection.connect()
                break
            except OSError:
                time.sleep(0.05)
        for name, method, path, plan in ASKED:
            body = (PLANS / plan).read_bytes() if plan else None
            headers = {"content-type": "application/json"} if plan else {}
            asked, end, before = 0, time.monotonic() + SECONDS, spent(server.pid)
            while time.monotonic() < end:
                connection.request(method, path, body, headers)
                response = connection.getresponse()
                response.read()
                if response.status != 200:
                    raise SystemExit(f"{path}: {response.status}")
                asked += 1
            cost = (spent(server.pid) - before) / asked
            print(f"| {name} | {cost * 1e6:,.0f} µs | {1 / cost:,.0f} |")
        print(f"most memory held: {memory(server.pid):.0f} MiB")
    finally:
        server.terminate()
        server.wait()


main()
