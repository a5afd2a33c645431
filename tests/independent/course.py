"""A target on its way (M21)."""

import math

from exact import num


class Course:
    """A target on its way (M21)."""

    def __init__(self, aim, moves, origin, since):
        self.sign = 1 if aim["way"] == "warm" else -1
        self.end = num(aim["to"])
        rates = [num(aim[name]) for name in ("rate", "to_rate") if name in aim]
        self.rate = min(rates)
        self.every = num(moves["every"]) if moves else None
        self.step = num(moves["steps_of"]) if moves else None
        self.origin = origin
        self.since = since
        self.still = False

    def clip(self, value):
        return min(value, self.end) if self.sign > 0 else max(value, self.end)

    def at(self, now):
        if self.origin is None:
            return None
        if self.still:
            return self.origin
        return self.clip(self.origin + self.sign * self.gone(now - self.since))

    def gone(self, minutes):
        if self.every is None:
            return self.rate * minutes / 60
        k = minutes // self.every
        return math.floor(self.rate * k * self.every / 60 / self.step) * self.step

    def next_move(self, now):
        """The next time at which it moves; a time of `every` may not change it."""
        k = (now - self.since) // self.every + 1
        stands = self.at(now)
        while self.at(self.since + k * self.every) == stands:
            k += 1
        return self.since + k * self.every

    def anew(self, value, now):
        self.origin = self.clip(value)
        self.since = now

    def hold_still(self, still, now):
        if still != self.still:
            if self.origin is not None:
                self.origin = self.at(now)
            self.since = now
            self.still = still

    def arrived(self, now):
        return self.origin is not None and self.at(now) == self.end

    def arrives(self, now):
        """When it is at its end; one that stands still, as if it went on from now."""
        if self.origin is None:
            return None
        since = now if self.still else self.since
        left = abs(self.end - self.origin)
        if self.every is None:
            return since + left * 60 / self.rate
        # The smallest k with floor(rate k every / 60 / step) step >= left.
        steps = -((-left) // self.step)
        k = -((-steps * self.step * 60) // (self.rate * self.every))
        return since + k * self.every
