"""The rules of a plan, checked on the bare file as any other program would.

Continuity, cover and passes; written from the file's description alone.
"""

import math
from typing import Any


def broken_rules(plan: dict[str, Any]) -> list[str]:
    """Return what is wrong with a plan.json as a dictionary; empty when nothing is."""
    wrong: list[str] = []
    nodes = plan["nodes"]
    edges = {e["id"]: e for e in plan["edges"]}
    if len(edges) != len(plan["edges"]):
        wrong.append("edge ids repeat")
    for e in edges.values():
        for node, point in ((e["u"], e["points"][0]), (e["v"], e["points"][-1])):
            if nodes[node] != point:
                wrong.append(f"{e['id']} does not end exactly at {node}")
        if sum(math.dist(a, b) for a, b in zip(e["points"], e["points"][1:], strict=False)) == 0:
            wrong.append(f"{e['id']} has no length")
    passes = dict.fromkeys(edges, 0)
    for thread in plan["threads"]:
        if not thread:
            wrong.append("empty thread")
        here = None
        for leg in thread:
            e = edges[leg["edge"]]
            passes[e["id"]] += 1
            start, stop = (e["v"], e["u"]) if leg["reverse"] else (e["u"], e["v"])
            if here not in (None, start):
                wrong.append(f"a jump before {e['id']}")
            here = stop
    for e in edges.values():
        if e["required"] and not passes[e["id"]]:
            wrong.append(f"{e['id']} is missing")
        if passes[e["id"]] > (1 if e["kind"] == "motif" else 2):
            wrong.append(f"{e['id']} is sewn too often")
    return wrong
