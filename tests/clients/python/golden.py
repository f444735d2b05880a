"""Makes the golden calls with the generated client: `python golden.py ADDRESS GOLDEN`."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from hotwell_client import Client
from hotwell_client.api.questions import (
    batch,
    compare,
    fill_level,
    flow_balance,
    flow_balance_json,
    flow_balance_packed,
    flow_balance_text,
    heat_budget,
    plan,
    seek,
    sweep,
)
from hotwell_client.api.service import example, health
from hotwell_client.api.sums import list_sums, sum_carnot_limit, sum_carnot_limit_text
from hotwell_client.models import (
    BatchInquiry,
    CompareInquiry,
    ExampleExample,
    Plan,
    Problem,
    SeekInquiry,
    SweepInquiry,
)
from hotwell_client.types import Response, Unset

Call = dict[str, Any]

# Each operation by its own typed function: none is reached by its path.
OPERATIONS: dict[str, Callable[[Client, Any, dict[str, str]], Response[Any]]] = {
    "flowBalance": lambda to, body, _: flow_balance.sync_detailed(client=to, body=Plan.from_dict(body)),
    "flowBalanceJson": lambda to, body, _: flow_balance_json.sync_detailed(client=to, body=Plan.from_dict(body)),
    "flowBalanceText": lambda to, body, _: flow_balance_text.sync_detailed(client=to, body=Plan.from_dict(body)),
    "flowBalancePacked": lambda to, _, given: flow_balance_packed.sync_detailed(client=to, z=given["z"]),
    "heatBudget": lambda to, body, _: heat_budget.sync_detailed(client=to, body=Plan.from_dict(body)),
    "fillLevel": lambda to, body, _: fill_level.sync_detailed(client=to, body=Plan.from_dict(body)),
    "plan": lambda to, body, _: plan.sync_detailed(client=to, body=Plan.from_dict(body)),
    "compare": lambda to, body, _: compare.sync_detailed(client=to, body=CompareInquiry.from_dict(body)),
    "sweep": lambda to, body, _: sweep.sync_detailed(client=to, body=SweepInquiry.from_dict(body)),
    "seek": lambda to, body, _: seek.sync_detailed(client=to, body=SeekInquiry.from_dict(body)),
    "batch": lambda to, body, _: batch.sync_detailed(client=to, body=BatchInquiry.from_dict(body)),
    "listSums": lambda to, _, __: list_sums.sync_detailed(client=to),
    "sumCarnotLimit": lambda to, _, given: sum_carnot_limit.sync_detailed(
        client=to, hot=given["hot"], cold=given["cold"]
    ),
    "sumCarnotLimitText": lambda to, _, given: sum_carnot_limit_text.sync_detailed(
        client=to, hot=given["hot"], cold=given["cold"]
    ),
    "example": lambda to, _, given: example.sync_detailed(client=to, example=ExampleExample(given["example"])),
    "health": lambda to, _, __: health.sync_detailed(client=to),
}


def at(value: Any, pointer: str) -> Any:
    """What stands at a JSON pointer (RFC 6901)."""
    for part in pointer.split("/")[1:]:
        name = part.replace("~1", "/").replace("~0", "~")
        value = value[int(name)] if isinstance(value, list) else value[name]
    return value


def holds(found: Any, wanted: Any) -> bool:
    if isinstance(wanted, dict):
        return math.isclose(
            found, wanted["value"], rel_tol=wanted.get("relative", 0.0), abs_tol=wanted.get("tolerance", 0.0)
        )
    return bool(found == wanted)


def wrong(call: Call, body: Any, client: Client) -> list[str]:
    """What of a call is not as expected."""
    expected = call["expect"]
    answer = OPERATIONS[call["operation"]](client, body, {**call.get("query", {}), **call.get("path", {})})
    if answer.status_code != expected["status"]:
        return [f"status {answer.status_code.value}: {answer.content.decode()[:300]}"]
    parsed = answer.parsed
    if "text" in expected:
        return [] if isinstance(parsed, str) and parsed.startswith(expected["text"]) else [f"text {parsed!r}"]
    if parsed is None or isinstance(parsed, Problem) != (expected["status"] >= 400):
        return [f"read as {type(parsed).__name__}"]
    faults = []
    if isinstance(parsed, Problem) and not isinstance(parsed.faults, Unset):
        # In the order of the document as it was sent, which is the generator's.
        faults = sorted([fault.pointer, fault.code, fault.near or None] for fault in parsed.faults)
    told = [] if faults == expected.get("faults", []) else [f"faults {faults}"]
    # Written again from the types that it was read into: what they do not hold is missing here.
    written = parsed.to_dict()
    for pointer, wanted in expected["figures"].items():
        try:
            found = at(written, pointer)
        except (KeyError, IndexError):
            told.append(f"{pointer} is not there")
            continue
        if not holds(found, wanted):
            told.append(f"{pointer} is {found!r} and not {wanted!r}")
    return told


def main() -> int:
    golden = Path(sys.argv[2])
    calls: list[Call] = json.loads(golden.read_text())
    failed = 0
    for call in calls:
        body = call.get("body")
        if isinstance(body, str):
            body = json.loads((golden.parent / body).read_text())
        client = Client(base_url=sys.argv[1] + call.get("below", ""), raise_on_unexpected_status=True)
        told = wrong(call, body, client)
        failed += bool(told)
        for fault in told:
            print(f"python: {call['title']}: {fault}")
    print(f"python: {len(calls) - failed} of {len(calls)} golden calls as expected")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
