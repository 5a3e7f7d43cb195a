"""The harness as GraphML (graphml.graphdrafts.org schema), for networkx, igraph and other graph tools.

Nodes: components, splices, grounds, and each pair of terminals of each drawing of a connector (so that circuits through
one connector stay apart). Edges: wires. A wire that just stops ends at a node of kind ``open``. Attributes are plain
texts and numbers: "" stands for "nothing".
"""

from __future__ import annotations

import io

import networkx as nx

from digitize.export.flat import FlatNode, flat_nodes
from digitize.harness.model import Harness, WireEnd

Scalar = str | float | bool


def graph_of(harness: Harness) -> nx.MultiGraph:
    """The graph, undirected, with parallel edges; see the module's text for what nodes and edges are."""
    graph = nx.MultiGraph(rights=harness.rights, made_by="digitize")
    nodes = flat_nodes(harness)
    for node in nodes.values():
        if node.kind not in ("connector", "grommet"):
            graph.add_node(node.id, **_attributes(node))
    for k in harness.connectors:
        for d in k.places:
            for n, cavity in enumerate(d.cavities or (None,), start=1):
                graph.add_node(f"{d.id}/{n}", **_attributes(nodes[d.id]), cavity=cavity or "")
    for w in harness.wires:
        a, b = (_node_of(graph, w.id, n, end, nodes) for n, end in enumerate(w.ends))
        p = w.parsed
        graph.add_edge(
            a,
            b,
            key=w.id,
            wire=w.id,
            code=w.code.value or "",
            circuit=(p.circuit or "") if p else "",
            gauge=(p.gauge or "") if p else "",
            colour=(p.colour or "") if p else "",
            tracer=(p.tracer or "") if p else "",
            from_terminal=w.ends[0].terminal or "",
            to_terminal=w.ends[1].terminal or "",
            sheets=" ".join(dict.fromkeys(path.sheet for path in w.paths)),
            code_probability=float(w.code.probability),
            probability=float(w.probability),
        )
    return graph


def as_graphml(harness: Harness) -> bytes:
    """The GraphML file, UTF-8."""
    out = io.BytesIO()
    nx.write_graphml(graph_of(harness), out, encoding="utf-8", named_key_ids=True)
    return out.getvalue()


def _attributes(node: FlatNode) -> dict[str, Scalar]:
    return {
        "kind": node.kind,
        "name": node.name,
        "object": node.object,
        "sheet": node.place.sheet,
        "zone": node.place.zone or "",
        "zone_nominal": node.place.zone_nominal,
        "x_mm": round(float(node.at[0]), 3),
        "y_mm": round(float(node.at[1]), 3),
        "location": node.location,
        "probability": float(node.probability),
    }


def _node_of(graph: nx.MultiGraph, wire: str, n: int, end: WireEnd, nodes: dict[str, FlatNode]) -> str:
    """The graph node of a wire's end; makes an ``open`` one where the wire just stops."""
    if end.node is not None and end.node in nodes:
        if nodes[end.node].kind == "connector":
            pair = f"{end.node}/{end.terminal[1:]}" if end.terminal else f"{end.node}/1"
            if pair not in graph:
                graph.add_node(pair, **_attributes(nodes[end.node]), cavity="")
            return pair
        return end.node
    own = f"{wire}:open{n}"
    graph.add_node(
        own, kind="open", name="", object=own, sheet=end.sheet, zone="", zone_nominal=False,
        x_mm=round(float(end.at[0]), 3), y_mm=round(float(end.at[1]), 3), location="", probability=1.0,
    )  # fmt: skip
    return own
