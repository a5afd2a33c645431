"""Times on the ward's clock, worked out by Python's own time-zone rules.

    python3 clocks.py SEED COUNT

Writes one case a line, separated by tabs: the zone, the start as the clock shows
it, minutes since the start, and the date and time that the clock then shows. A
time that the clock shows twice has its offset behind it. Most cases begin within
three days of a change of the clocks.
"""

import random
import sys
from datetime import datetime, timedelta, timezone
from zoneinfo import ZoneInfo

ZONES = [
    "UTC",
    "Europe/London",
    "Europe/Dublin",
    "Europe/Paris",
    "America/New_York",
    "America/St_Johns",
    "America/Los_Angeles",
    "Australia/Sydney",
    "Australia/Lord_Howe",
    "Pacific/Auckland",
    "Pacific/Chatham",
    "Asia/Kolkata",
    "Asia/Kathmandu",
]
FIRST, LAST = datetime(2022, 1, 1), datetime(2027, 12, 31)


def changes(zone):
    """The instants at which the offset changes, to the hour."""
    at = FIRST.replace(tzinfo=timezone.utc)
    found = []
    while at < LAST.replace(tzinfo=timezone.utc):
        after = at + timedelta(hours=1)
        if at.astimezone(zone).utcoffset() != after.astimezone(zone).utcoffset():
            found.append(at)
        at = after
    return found


def twice(instant, zone):
    """Whether the clock shows this time of day twice."""
    local = instant.astimezone(zone).replace(tzinfo=None)
    first = local.replace(tzinfo=zone, fold=0).utcoffset()
    second = local.replace(tzinfo=zone, fold=1).utcoffset()
    return first != second


def offset(local):
    seconds = int(local.utcoffset().total_seconds())
    sign = "-" if seconds < 0 else "+"
    hours, minutes = divmod(abs(seconds) // 60, 60)
    return f"{sign}{hours:02}:{minutes:02}"


def main():
    draw = random.Random(int(sys.argv[1]))
    known = {name: changes(ZoneInfo(name)) for name in ZONES}
    written = 0
    while written < int(sys.argv[2]):
        name = draw.choice(ZONES)
        zone = ZoneInfo(name)
        change = draw.choice(known[name]) if known[name] else None
        if change and draw.random() < 0.8:
            start = change + timedelta(minutes=draw.randint(-4320, 240))
        else:
            start = FIRST.replace(tzinfo=timezone.utc) + timedelta(minutes=draw.randint(0, 3_000_000))
        if twice(start, zone):
            continue
        minutes = draw.choice([draw.randint(0, 300), draw.randint(0, 6000), 60 * draw.randint(0, 120)])
        if change and start < change and draw.random() < 0.3:
            # Into the hours around the change itself.
            minutes = int((change - start).total_seconds()) // 60 + draw.randint(-90, 90)
            minutes = max(0, minutes)
        then = start + timedelta(minutes=minutes)
        local = then.astimezone(zone)
        shown = local.strftime("%Y-%m-%d %H:%M")
        if twice(then, zone):
            shown += f" ({offset(local)})"
        print(name, start.astimezone(zone).strftime("%Y-%m-%dT%H:%M"), minutes, shown, sep="\t")
        written += 1


main()
