# Random graphs with what networkx makes of them: connected parts, articulation
# points, and the fewest links from node 0. One line a graph; lists in a cell
# are parted by blanks, parts by "|", unreachable nodes are "-".
#   python3 -m venv /tmp/nx && /tmp/nx/bin/pip install networkx==3.4.2
#   /tmp/nx/bin/python make_graphs.py > graphs.csv
import random

import networkx as nx

random.seed(20261205)
print("nodes,links,parts,articulation,hops")
for _ in range(240):
    nodes = random.randint(1, 20)
    # From scattered to dense; trees and near-trees are where articulation is.
    graph = nx.gnp_random_graph(nodes, random.choice([0.05, 0.1, 0.15, 0.25, 0.5]), seed=random.randint(0, 10**9))
    links = " ".join(f"{a}-{b}" for a, b in sorted(graph.edges))
    parts = sorted((sorted(p) for p in nx.connected_components(graph)), key=lambda p: (-len(p), p[0]))
    parts = "|".join(" ".join(map(str, p)) for p in parts)
    articulation = " ".join(map(str, sorted(nx.articulation_points(graph))))
    hops = nx.single_source_shortest_path_length(graph, 0)
    hops = " ".join(str(hops.get(n, "-")) for n in range(nodes))
    print(f"{nodes},{links},{parts},{articulation},{hops}")
