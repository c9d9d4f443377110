"""Parts of a pass turned round where that saves more turning than the bulk under the arm is worth.

Directions that keep the bulk outside everywhere (:mod:`directions`) leave only some mates at each
node, and the rest pay in pivots.  Here a stretch between two visits of one node is sewn the other
way round wherever turning and bulk together become less: the 2-opt move of a closed walk.

References
----------
Croes, A method for solving traveling-salesman problems, Operations Research 6, 1958 (2-opt).
"""

from itertools import accumulate

from seamwalk.routing.solve.threads import Walk
from seamwalk.routing.turning import Costs, Floats

MOST_ROUNDS = 20
"""Times that all nodes are looked at; three to eight are used."""

LEAST_S = 1e-6
"""Less is no gain: rounding."""


def turned_round(walk: Walk, price_s: Floats, costs: Costs) -> Walk:
    """Return the walk with stretches reversed while that saves anything.

    Parameters
    ----------
    walk : Walk
        A pass.
    price_s : (2C,) float
        What entering a copy by each half-edge is worth avoiding, seconds: its bulk.
    costs : Costs
        Of turning.
    """
    for _ in range(MOST_ROUNDS):
        changed = False
        visits: dict[int, list[int]] = {}
        for k in range(1, len(walk)):
            visits.setdefault(costs.node[walk[k]], []).append(k)
        # What is gained by entering the copies up to here by their other halves.
        gain_s = list(accumulate((float(price_s[h] - price_s[h ^ 1]) for h in walk), initial=0.0))
        done_to = 0
        for places in sorted(visits.values()):
            if len(places) < 2 or places[0] <= done_to:
                continue
            best = (LEAST_S, 0, 0)
            for x, i in enumerate(places):
                for j in places[x + 1 :]:
                    saved = gain_s[j] - gain_s[i] + _turning_saved(walk, i, j, costs)
                    if saved > best[0]:
                        best = (saved, i, j)
            saved, i, j = best
            if saved > LEAST_S:
                walk = walk[:i] + [h ^ 1 for h in reversed(walk[i:j])] + walk[j:]
                # Places within what was reversed have moved: they wait for the next round.
                done_to = j
                changed = True
        if not changed:
            break
    return walk


def _turning_saved(walk: Walk, i: int, j: int, costs: Costs) -> float:
    """Return the seconds saved at both joints by reversing ``walk[i:j]``."""
    before, first, last, after = walk[i - 1] ^ 1, walk[i], walk[j - 1] ^ 1, walk[j]
    now = costs.turn(before, first) + costs.turn(last, after)
    return now - costs.turn(before, last) - costs.turn(first, after)
