"""Courses worked out straight from the definition M21, by another program.

    python3 courses.py SEED COUNT

Writes one course a line, separated by tabs; numbers are exact fractions, times in
minutes, `-` where the target glides:

    WAY  BEGIN  END  RATE(°C/h)  EVERY  STEP  MINUTE  TARGET-THEN  ARRIVES-AFTER
"""

import random
import sys
from fractions import Fraction
from math import floor


def target(way, begin, end, rate, every, step, minute):
    """Where the target stands so many minutes after the course began."""
    distance = abs(end - begin)
    if every is None:
        gone = rate * minute / 60
    else:
        moves = floor(minute / every)
        gone = floor(rate * moves * every / 60 / step) * step
    gone = min(gone, distance)
    return begin + gone if way == "warm" else begin - gone


def arrives(way, begin, end, rate, every, step):
    if every is None:
        return abs(end - begin) / rate * 60
    moves = 0
    while target(way, begin, end, rate, every, step, moves * every) != end:
        moves += 1
    return moves * every


def main():
    draw = random.Random(int(sys.argv[1]))
    for _ in range(int(sys.argv[2])):
        way = draw.choice(["warm", "cool"])
        low = Fraction(draw.randint(300, 360), 10)
        high = low + Fraction(draw.randint(0, 80), draw.choice([10, 20, 7]))
        begin, end = (low, high) if way == "warm" else (high, low)
        rate = draw.choice(
            [Fraction(draw.randint(1, 60), 20), Fraction(1, draw.randint(1, 12))]
        )
        every = step = None
        if draw.random() < 0.7:
            every = Fraction(draw.choice([5, 10, 15, 20, 30, 45, 60, 120, 240]))
            step = Fraction(draw.choice([1, 2, 3, 5, 10, 25]), draw.choice([10, 20, 30]))
        arrival = arrives(way, begin, end, rate, every, step)
        # Half of the questions near the arrival or near a move, where it matters.
        minute = Fraction(draw.randint(0, 3000))
        if draw.random() < 0.5:
            minute = max(Fraction(0), arrival + draw.choice([-1, 0, 1]))
        elif every is not None:
            minute = max(Fraction(0), every * draw.randint(0, 40) + draw.choice([-1, 0, 1]))
        then = target(way, begin, end, rate, every, step, minute)
        fields = [way, begin, end, rate, every, step, minute, then, arrival]
        print(*("-" if field is None else field for field in fields), sep="\t")


main()
