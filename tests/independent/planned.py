"""Where the plan of a moment puts the beginning of a phase (M19, M31)."""

from course import Course
from exact import num


class Planned:
    def planned_start(self, wanted):
        if self.stopped or self.index[wanted] <= self.phase:
            return None
        marks = {}

        def mark(name):
            return marks.get(name, self.mark(name))

        ends = self.planned_end(self.phases[self.phase], self.since, mark, True)
        if ends is None:
            return None
        ends = max(ends, self.now)
        for index in range(self.phase, len(self.phases)):
            marks[self.phases[index]["name"] + ".end"] = ends
            following = self.phases[index + 1]
            if following["name"] == wanted:
                return ends
            marks[following["name"] + ".start"] = ends
            later = self.planned_end(following, ends, mark, False)
            if later is None:
                return None
            ends = max(ends, later)

    def planned_end(self, phase, since, mark, running):
        end = phase["end"]
        if end["kind"] == "lasts":
            return since + num(end["duration"])
        if end["kind"] == "after":
            made = mark(end["mark"])
            return None if made is None else made + num(end["after"])
        if end["kind"] in ("at-mark", "when"):
            planned = num(end["plan"]["first"])
            if "last" in end["plan"]:
                planned = max(planned, num(end["plan"]["last"]))
            if "at_least" in end:
                planned = max(planned, num(end["at_least"]))
            if "at_most" in end:
                planned = min(planned, num(end["at_most"]))
            return since + planned
        return self.planned_arrival(phase, since, mark, running)

    def planned_arrival(self, phase, since, mark, running):
        aim = phase["aim"]
        if running:
            course = self.aim if isinstance(self.aim, Course) else None
            if course and course.arrives(self.now) is not None:
                return course.arrives(self.now)
            begin, to = self.value(aim["reading"], self.now), self.end_value()
            base, due = self.now, self.due()
        else:
            begin, to, base = self.planned_from(phase), num(aim["to"]), since
            if "rate" in aim and begin is not None:
                course = Course(aim, phase.get("moves"), None, since)
                course.anew(begin, since)
                return course.arrives(since)
            due = None
            if "due" in phase:
                counted = mark(phase["due"]["of"]) if "of" in phase["due"] else since
                due = None if counted is None else counted + num(phase["due"]["within"])

        def at(rate):
            if begin is None or rate not in phase:
                return None
            return base + abs(begin - to) * 60 / num(phase[rate])

        soonest = at("never_faster")
        if soonest is None:
            soonest = base
        latest = [time for time in (at("at_least"), due) if time is not None]
        return max(min(latest), soonest) if latest else soonest

    def planned_from(self, phase):
        """Where a phase that has not begun is planned to begin."""
        if "from" in phase["aim"]:
            return num(phase["aim"]["from"])
        index = self.index[phase["name"]]
        before = self.phases[index - 1]["aim"] if index else {}
        for end in ("at", "to"):
            if end in before:
                return num(before[end])
        return None
