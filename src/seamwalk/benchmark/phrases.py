"""How long the shortest obvious description of a sequence of moves is.

The sequence is read from the front; each phrase is the longest stretch that has occurred before
(it may run into itself: "the same again and again"), or one new move.  The number of phrases is
small where a path repeats what it has done.

References
----------
Ziv and Lempel, A universal algorithm for sequential data compression, IEEE Trans. Information
Theory 23, 1977.  Without their letter after each phrase it is the factorization of Crochemore,
Transducers and repetitions, Theoretical Computer Science 45, 1986.
"""

from collections.abc import Hashable, Sequence


def phrases(moves: Sequence[Hashable]) -> int:
    """Return the number of phrases of `moves`.

    Notes
    -----
    Quadratic at worst, in the search of strings, which is fast: 20,000 moves take a second.
    """
    number: dict[Hashable, int] = {}
    # Characters above the surrogates, one to a move, let the search of strings do the work.
    text = "".join(chr(0x10000 + number.setdefault(m, len(number))) for m in moves)
    at = count = 0
    while at < len(text):
        n = 0
        earlier = text.find(text[at], 0, at)
        while earlier >= 0:
            # As far as this occurrence goes, then look for one that goes further.
            while at + n < len(text) and text[earlier + n] == text[at + n]:
                n += 1
            if at + n == len(text):
                break
            earlier = text.find(text[at : at + n + 1], earlier + 1, at + n)
        at += max(n, 1)
        count += 1
    return count
