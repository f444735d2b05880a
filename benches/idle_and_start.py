"""How long a replica takes from being started to its first answer, and what memory it holds when nobody asks.

    python3 benches/idle_and_start.py target/release/hotwell [TIMES]
"""

import socket
import statistics
import subprocess
import sys
import time

SUM = b"GET /v1/sums/units-needed.txt?flow=2.5%20kg/s&each=300%20g/s HTTP/1.1\r\nhost: replica\r\nconnection: close\r\n\r\n"


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as server:
        return server.getsockname()[1]


def first_answer(port: int) -> None:
    """Asks until there is an answer."""
    while True:
        try:
            with socket.create_connection(("127.0.0.1", port), timeout=5) as connection:
                connection.sendall(SUM)
                if connection.recv(64).startswith(b"HTTP/1.1 200"):
                    return
        except ConnectionError:
            time.sleep(0.0005)


def resident_mib(pid: int) -> float:
    with open(f"/proc/{pid}/status", encoding="ascii") as status:
        return next(int(line.split()[1]) for line in status if line.startswith("VmRSS")) / 1024


def main() -> None:
    program, times = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 20
    starts, held = [], []
    for _ in range(times):
        port = free_port()
        began = time.perf_counter()
        replica = subprocess.Popen([program, "--listen", f"127.0.0.1:{port}", "--log", "warn"], stdout=subprocess.DEVNULL)
        try:
            first_answer(port)
            starts.append((time.perf_counter() - began) * 1e3)
            time.sleep(0.2)
            held.append(resident_mib(replica.pid))
        finally:
            replica.terminate()
            replica.wait()
    print(f"start to first answer: median {statistics.median(starts):.0f} ms, at most {max(starts):.0f}")
    print(f"memory after it: median {statistics.median(held):.1f} MiB, at most {max(held):.1f}")


main()
