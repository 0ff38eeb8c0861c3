# Best sets of sites by another solver: the textbook program with an assignment
# variable for every spot and site, solved by CBC through PuLP. Instances are
# made from a number on both sides (tests/choose.rs makes the same): sites and
# spots on a square, chances in thousandths that fall with the square of the
# distance. One line an instance; the value is the sum of weight times chance.
#   python3 -m venv /tmp/pulp && /tmp/pulp/bin/pip install pulp==2.9.0
#   /tmp/pulp/bin/python make_sets.py > sets.csv
import pulp


class Numbers:
    """The generator of ISO C's rand(), its lowest eight bits left out."""

    def __init__(self, seed):
        self.state = seed

    def below(self, limit):
        self.state = (1103515245 * self.state + 12345) % 2**31
        return (self.state >> 8) % limit


def instance(seed, sites, spots):
    numbers = Numbers(seed)
    place = lambda: (numbers.below(1000), numbers.below(1000))
    at = [place() for _ in range(sites)]
    mast = [2 + numbers.below(8) for _ in range(sites)]
    locked = [numbers.below(2) for _ in range(sites)]
    usable = [numbers.below(10) > 0 for _ in range(sites)]
    where = [place() for _ in range(spots)]
    weight = [1 + numbers.below(5) for _ in range(spots)]
    square = lambda a, b: (a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2
    chance = [[max(0, 1000 - square(w, a) // 300) for a in at] for w in where]
    linked = [[square(a, b) < 160000 for b in at] for a in at]
    return mast, locked, usable, weight, chance, linked


def solve(seed, sites, spots, most, doors, masts, musts, links):
    mast, locked, usable, weight, chance, linked = instance(seed, sites, spots)
    program = pulp.LpProblem("sets", pulp.LpMaximize)
    y = [pulp.LpVariable(f"y{i}", cat="Binary") for i in range(sites)]
    x = [[pulp.LpVariable(f"x{j}_{i}", 0, 1) for i in range(sites)] for j in range(spots)]
    program += pulp.lpSum(weight[j] * chance[j][i] * x[j][i] for j in range(spots) for i in range(sites))
    for j in range(spots):
        program += pulp.lpSum(x[j]) <= 1
        for i in range(sites):
            program += x[j][i] <= y[i]
    program += pulp.lpSum(y) <= most
    program += pulp.lpSum(y) >= 1
    for i in range(sites):
        if not usable[i]:
            program += y[i] == 0
    if doors >= 0:
        program += pulp.lpSum(locked[i] * y[i] for i in range(sites)) <= doors
    if masts >= 0:
        program += pulp.lpSum(mast[i] * y[i] for i in range(sites)) <= masts
    for j in range(musts):  # the first spots must be served
        program += pulp.lpSum(y[i] for i in range(sites) if chance[j][i] >= 700) >= 1
    if links:  # two sites at most: every two that do not hear each other exclude one another
        for a in range(sites):
            for b in range(a):
                if not linked[a][b]:
                    program += y[a] + y[b] <= 1
    status = program.solve(pulp.PULP_CBC_CMD(msg=0, options=["ratioGap 0", "allowableGap 0"]))
    if pulp.LpStatus[status] != "Optimal":
        return "none", ""
    return round(pulp.value(program.objective)), " ".join(str(i) for i in range(sites) if y[i].value() > 0.5)


print("seed,sites,spots,most,doors,masts,musts,links,value,set")
cases = [
    (1, 40, 100, 1, -1, -1, 0, 0),
    (2, 40, 100, 2, -1, -1, 0, 0),
    (3, 40, 100, 3, -1, -1, 0, 0),
    (4, 40, 100, 4, -1, -1, 0, 0),
    (5, 60, 120, 4, 1, -1, 0, 0),
    (6, 60, 120, 3, -1, 9, 0, 0),
    (7, 60, 120, 2, 0, 12, 0, 1),
    (8, 60, 120, 2, -1, -1, 2, 1),
    (9, 60, 120, 4, 2, 16, 2, 0),
    (10, 60, 120, 4, 1, 14, 3, 0),
    (11, 80, 150, 4, -1, -1, 0, 0),
    (12, 80, 150, 3, 0, 10, 1, 0),
    (13, 30, 60, 2, 0, 5, 4, 0),
    (14, 80, 150, 2, 1, -1, 0, 1),
]
for case in cases:
    value, chosen = solve(*case)
    print(*case, value, chosen, sep=",", flush=True)
