"""What the logs on standard input come to, worked out with pandas.

One JSON document a line: {"phases": [...], "records": [[minute, hundredths], ...]}.
A phase is {"aim": "cool" | "hold" | "warm" | "keep", ...} with hundredths of a degree and
minutes. Everything is whole numbers, so that nothing is rounded; a share is a fraction.
One JSON object of figures a line comes back.
"""

import json
import sys
from fractions import Fraction

import pandas as pd


def stretch(frame, begin, end):
    """The records of a phase: the one that begins it and the one that ends it too."""
    return frame[(frame["at"] >= begin) & (frame["at"] <= end)]


def spans(part, end, good):
    """How long each record stands, in half minutes: to the next, but no longer than it is good."""
    until = part["at"].shift(-1).fillna(end).clip(upper=end) * 2
    return until.clip(upper=part["at"] * 2 + good) - part["at"] * 2


def fraction(top, bottom):
    return None if bottom == 0 else str(Fraction(int(top), int(bottom)))


def fastest(part, back2, sign):
    """The largest change to a look no older than `back2` half minutes."""
    if len(part) < 2:
        return None
    pairs = part.merge(part, how="cross", suffixes=("", "_then"))
    pairs = pairs[(pairs["at_then"] < pairs["at"]) & ((pairs["at"] - pairs["at_then"]) * 2 <= back2)]
    if pairs.empty:
        return None
    largest = max(0, int((sign * (pairs.value - pairs.value_then)).max()))
    return str(Fraction(largest, 100))


def held(found, name, part, begin, end, every, low, high, target):
    """`begin` to `end` is the time of the phase that the log covers."""
    value = part.value
    inside = (value >= low) & (value <= high)
    found[f"{name}.readings"] = str(len(part))
    found[f"{name}.share-of-readings-in-band"] = fraction(inside.sum(), len(part))
    length = spans(part, end, every * 3).astype(int)
    known = length.sum()
    found[f"{name}.time-known"] = str(Fraction(int(known), 2))
    found[f"{name}.time-unknown"] = str(Fraction(int((end - begin) * 2 - known), 2))
    found[f"{name}.share-of-time-in-band"] = fraction(length[inside].sum(), known)
    if target is not None:
        near = (value - target).abs() <= 100
        found[f"{name}.share-of-readings-within-1"] = fraction(near.sum(), len(part))
        found[f"{name}.share-of-time-within-1"] = fraction(length[near].sum(), known)
    found[f"{name}.time-below-band"] = str(Fraction(int(length[value < low].sum()), 2))
    above_is = ("time-above-band", "depth-above-band") if target is not None else ("time-above-guard", "farthest-above-guard")
    found[f"{name}.{above_is[0]}"] = str(Fraction(int(length[value > high].sum()), 2))
    if len(part):
        found[f"{name}.depth-below-band"] = str(Fraction(max(0, low - int(value.min())), 100))
        found[f"{name}.{above_is[1]}"] = str(Fraction(max(0, int(value.max()) - high), 100))
    above = value > high
    return above


def figures(case):
    frame = pd.DataFrame(case["records"], columns=["at", "value"])
    # Of two records at one time the later stands.
    frame = frame.drop_duplicates("at", keep="last").sort_values("at").reset_index(drop=True)
    last = int(frame["at"].max())
    found = {}
    begin = 0
    for phase in case["phases"]:
        if begin is None or begin > last:
            break
        name, every = phase["name"], phase["every"]
        rest = frame[frame["at"] >= begin]
        if phase["aim"] == "cool":
            there = rest[rest.value <= phase["to"]]
            end = int(there["at"].iloc[0]) if len(there) else None
            part = stretch(frame, begin, end if end is not None else last)
            found[f"{name}.time-to-target"] = None if end is None else str(end - begin)
            found[f"{name}.fastest-fall"] = fastest(part, 120 + every // 2, -1)
        elif phase["aim"] == "warm":
            arrives = begin + phase["course"]
            enough = phase["to"] - phase["within"]
            there = rest[(rest["at"] >= arrives) & (rest.value >= enough)]
            end = int(there["at"].iloc[0]) if len(there) else None
            before = frame[frame["at"] <= arrives]
            standing = before.iloc[-1] if len(before) else None
            if (
                arrives <= last
                and standing is not None
                and (arrives - standing["at"]) * 2 <= every * 3
                and standing.value >= enough
            ):
                end = arrives
            part = stretch(frame, begin, end if end is not None else last)
            found[f"{name}.time-to-target"] = None if end is None else str(end - begin)
            found[f"{name}.fastest-rise"] = fastest(part, 120 + every // 2, 1)
        else:
            end = begin + phase["lasts"]
            part = stretch(frame, begin, end)
            target = phase.get("at")
            low, high = phase["low"], phase["high"]
            above = held(found, name, part, begin, min(end, last), every, low, high, target)
            if phase["aim"] == "keep":
                anew = above & ~above.shift(1, fill_value=False)
                found[f"{name}.guard-breaches"] = str(int(anew.sum()))
        begin = end
    return found


# All of it is read first: who writes it reads only afterwards.
for line in sys.stdin.read().splitlines():
    print(json.dumps(figures(json.loads(line))))
