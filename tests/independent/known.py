"""What is known of a reading, and since when (M5 to M8)."""

from fractions import Fraction

from exact import num


class Known:
    def interval(self, reading, phase):
        """The interval in force, or None."""
        found = [
            num(look["when"]["interval"])
            for look in self.looks
            if look["when"]["kind"] == "every"
            and look["what"]["kind"] == "ask"
            and reading in look["what"]["readings"]
            and (not look["when"].get("during") or phase in look["when"]["during"])
        ]
        return min(found) if found else None

    def phase_names_since(self, made, until):
        """The phase that ran when the moment of a record was over, and those since."""
        before = [name for at, name in self.settled if at <= made]
        since = [name for at, name in self.settled if made < at <= until]
        return before[-1:] + since

    def good_until(self, reading, made, until):
        """Up to when a record made then is good, by what has run up to `until`."""
        stated = self.readings[reading].get("good_for")
        if stated:
            return made + num(stated)
        names = self.phase_names_since(made, until)
        if not names:
            # The phases of its own moment have not settled yet.
            return made
        if self.interval(reading, names[0]) is None:
            return made
        intervals = [self.interval(reading, name) for name in names]
        return made + Fraction(3, 2) * min(i for i in intervals if i is not None)

    def value(self, reading, at):
        """What is known of a reading at that time."""
        made = None
        for time, value in self.records[reading]:
            if time <= at:
                made = (time, value)
        if made is None or self.good_until(reading, made[0], at) < at:
            return None
        return made[1]

    def known_between(self, reading, begin, end):
        """Whether the reading was known at every time from begin to end."""
        if self.value(reading, begin) is None:
            return False
        times = [time for time, _ in self.records[reading] if time <= end]
        for earlier, later in zip(times, times[1:]):
            if later <= begin:
                continue
            # Up to just before the next record: phases that begin with it do not count.
            names = [at for at, _ in self.settled if at < later]
            last = max(names) if names else earlier
            if self.good_until(reading, earlier, max(last, earlier)) < later:
                return False
        return self.value(reading, end) is not None

    def slack(self, readings, at):
        phase = None
        for time, name in self.settled:
            if time <= at:
                phase = name
        found = [self.interval(reading, phase) for reading in readings]
        found = [interval for interval in found if interval is not None]
        return min(found) / 4 if found else Fraction(0)

    def mark(self, name):
        times = self.marks.get(name)
        return times[-1] if times else None
