"""When a condition holds (M7 to M12)."""

from fractions import Fraction

from exact import compare, num

YES, NO, UNDECIDED = "yes", "no", "undecided"


class Conditions:
    def holds(self, condition, since):
        return self.truth(condition, since) == YES

    def truth(self, c, since):
        kind = c["kind"]
        if kind == "all":
            parts = [self.truth(part, since) for part in c["of"]]
            if NO in parts:
                return NO
            return YES if all(part == YES for part in parts) else UNDECIDED
        if kind == "any":
            parts = [self.truth(part, since) for part in c["of"]]
            if YES in parts:
                return YES
            return NO if all(part == NO for part in parts) else UNDECIDED
        if kind in ("not-recorded", "lasts-longer", "overdue", "paused-longer"):
            at = self.clock(c, since)
            return YES if at is not None and at <= self.now else NO
        readings = self.readings_of(c)
        if not all(self.counts(reading, since, self.now) for reading in readings):
            return UNDECIDED
        looks = self.looks_of(readings, since)
        if not looks:
            return UNDECIDED
        return self.decided(c, readings, looks, since)

    def readings_of(self, c):
        return [c["first"], c["second"]] if c["kind"] == "differ" else [c["reading"]]

    def looks_of(self, readings, since):
        times = sorted(
            {
                time
                for reading in readings
                for time, _ in self.records[reading]
                if since <= time <= self.now
            }
        )
        return [
            time
            for time in times
            if all(self.counts(reading, since, time) for reading in readings)
        ]

    def counts(self, reading, since, at):
        """Whether a record of the stretch is known at that time."""
        made = [time for time, _ in self.records[reading] if since <= time <= at]
        return bool(made) and self.value(reading, at) is not None

    def decided(self, c, readings, looks, since):
        last = looks[-1]
        slack = self.slack(readings, last)
        if c["kind"] == "trend":
            return self.trend(c, looks, slack)
        answer = self.at_look(c, last, since)
        if "for" not in c or answer != YES:
            return answer
        long_ago = last - (num(c["for"]) - slack)
        earlier = [look for look in looks[:-1] if look <= long_ago]
        if not earlier:
            return NO
        first = earlier[-1]
        for look in looks:
            if look >= first and self.at_look(c, look, since) != YES:
                return NO
        if not all(self.known_between(reading, first, last) for reading in readings):
            return NO
        return YES

    def trend(self, c, looks, slack):
        sign = 1 if c["way"] == "rises" else -1
        last = looks[-1]
        x, d = num(c["than"]), num(c["over"])
        value = self.value(c["reading"], last)

        def gone(look):
            return sign * (value - self.value(c["reading"], look))

        if c["by"] == "more":
            return YES if any(last - s <= d + slack and gone(s) > x for s in looks[:-1]) else NO
        fit = [s for s in looks[:-1] if d - slack <= last - s <= d + slack]
        return YES if fit and gone(fit[-1]) < x else NO

    def at_look(self, c, at, since):
        kind = c["kind"]
        if kind == "differ":
            distance = abs(self.value(c["first"], at) - self.value(c["second"], at))
            than = num(c["than"])
            return YES if (distance > than if c["by"] == "more" else distance < than) else NO
        value = self.value(c["reading"], at)
        if kind == "compare":
            return YES if compare(c["is"], value, num(c["level"])) else NO
        if kind == "outside":
            return YES if value < num(c["low"]) or value > num(c["high"]) else NO
        if kind == "is":
            return YES if value == c["word"] else NO
        # Once a look has been decided its answer stands, whatever a later pass brings.
        target = self.target_at_look(at, since)
        if target is None:
            return UNDECIDED
        low, high = target
        if kind == "off-target":
            by = num(c["by_more_than"])
            if c["side"] == "above":
                return YES if high is not None and value - high > by else NO
            return YES if low is not None and low - value > by else NO
        within = num(c["within"])
        beyond = Fraction(0)
        if high is not None and value > high:
            beyond = value - high
        if low is not None and value < low:
            beyond = low - value
        return YES if beyond <= within else NO

    def target_at_look(self, at, since):
        if type(since).__name__ == "AfterAll":
            # A measure is decided when its moment is over.
            return self.after_all.get(at)
        passes = self.targets.get(at, [])
        turn = since.turn if since == at else 0
        return passes[turn] if turn < len(passes) else self.band()

    def clock(self, c, since):
        """From when on a test of the clock holds; None for not at all."""
        kind = c["kind"]
        if kind == "not-recorded":
            times = [t for t, _ in self.records[c["reading"]] if since <= t <= self.now]
            return (times[-1] if times else since) + num(c["over"])
        if kind == "paused-longer":
            if self.paused_since is None:
                return None
            return self.paused_since + num(c["than"])
        if self.phase is None or self.phases[self.phase]["name"] != c["phase"]:
            return None
        if kind == "lasts-longer":
            return self.since + num(c["than"])
        return self.due()

    def clocks(self, c, since):
        """All times at which tests of the clock in it become true."""
        if c["kind"] in ("all", "any"):
            for part in c["of"]:
                yield from self.clocks(part, since)
        elif c["kind"] in ("not-recorded", "lasts-longer", "overdue", "paused-longer"):
            yield self.clock(c, since)
