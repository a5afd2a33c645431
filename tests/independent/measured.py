"""Measures over a case (M35)."""

from exact import Since, num

from conditions import NO, UNDECIDED


class AfterAll(Since):
    """The beginning of a measure's stretch: it is decided when a moment is over."""


class Measures:
    def measure_until(self, end):
        """Adds up the time from the last moment to `end`, in which nothing was entered."""
        begin = self.now
        if begin is None or end <= begin:
            return
        for i, measure in enumerate(self.measures):
            since = self.measure_stretch[i]
            if since is None:
                continue
            edges = {end, *self.edges(measure["what"], since, begin, end)}
            at = begin
            for edge in sorted(edges):
                self.now = (at + edge) / 2
                self.add(i, measure["what"], since, edge - at)
                at = edge
            self.now = begin

    def edges(self, what, since, begin, end):
        """When between two moments something can change."""
        if what["kind"] == "area":
            readings, clocks = {what["reading"]}, []
        else:
            readings = set(self.all_readings(what["condition"]))
            clocks = self.clocks(what["condition"], since)
        good = [
            self.good_until(reading, self.records[reading][-1][0], begin)
            for reading in readings
            if self.records[reading]
        ]
        return [at for at in [*good, *clocks] if at is not None and begin < at < end]

    def all_readings(self, c):
        if c["kind"] in ("all", "any"):
            for part in c["of"]:
                yield from self.all_readings(part)
        elif c["kind"] not in ("not-recorded", "lasts-longer", "overdue", "paused-longer"):
            yield from self.readings_of(c)

    def add(self, i, what, since, minutes):
        total = self.measured[i]
        beyond = None
        if what["kind"] == "area":
            truth = UNDECIDED
            if self.counts(what["reading"], since, self.now):
                value, level = self.value(what["reading"], self.now), num(what["level"])
                beyond = value - level if what["side"] == "above" else level - value
                truth = beyond > 0
        else:
            truth = self.truth(what["condition"], since)
        if truth == UNDECIDED:
            total["unknown"] += minutes
            return
        total["known"] += minutes
        if truth is False or truth == NO:
            return
        total["held"] += minutes
        if beyond is not None:
            total["area"] += beyond * minutes / 60

    def measure_stretches(self):
        """A moment is over: stretches begin and end."""
        self.after_all[self.now] = self.band()
        name = None if self.phase is None else self.phases[self.phase]["name"]
        for i, measure in enumerate(self.measures):
            during = measure.get("during")
            if name is None or (during and name not in during):
                self.measure_stretch[i] = None
            elif self.measure_stretch[i] is None:
                self.measure_stretch[i] = AfterAll(self.now, 0)

    def say_measures(self):
        for measure, total in zip(self.measures, self.measured):
            parts = [str(total[part]) for part in ("held", "known", "unknown", "area")]
            self.out.append([str(self.until), "measure", measure["name"], *parts])
