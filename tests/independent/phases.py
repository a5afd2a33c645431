"""Phases and their target (M17 to M25)."""

from fractions import Fraction

from course import Course
from exact import Since, num


class Phases:
    def due(self):
        due = self.phases[self.phase].get("due")
        if not due:
            return None
        base = self.since
        if "of" in due and not self.by_order:
            base = self.mark(due["of"])
        return None if base is None else base + num(due["within"])

    def end_value(self):
        if isinstance(self.aim, Course):
            return self.aim.end
        return self.aim["to"]

    def reached(self):
        """Whether the running phase ends now."""
        if self.stopped:
            return False
        phase = self.phases[self.phase]
        end = phase["end"]
        kind = end["kind"]
        if kind == "reached":
            aim = phase["aim"]
            value = self.value(aim["reading"], self.now)
            if value is None:
                return False
            within = num(aim["within"]) if "within" in aim else 0
            to = self.end_value()
            there = value >= to - within if aim["way"] == "warm" else value <= to + within
            if isinstance(self.aim, Course):
                there = there and self.aim.arrived(self.now)
            return there
        if kind == "lasts":
            return self.now >= self.since + num(end["duration"])
        if kind == "after":
            made = self.mark(end["mark"])
            return made is not None and self.now >= made + num(end["after"])
        if "at_most" in end and self.now >= self.since + num(end["at_most"]):
            return True
        if "at_least" in end and self.now < self.since + num(end["at_least"]):
            return False
        if kind == "at-mark":
            times = self.marks.get(end["mark"], [])
            if self.by_order:
                times = [time for time in times if time > self.since]
            return bool(times)
        return self.holds(end["condition"], self.since)

    def begin(self, index, by_order):
        phase = self.phases[index]
        name = phase["name"]
        self.phase, self.by_order = index, by_order
        self.since = Since(self.now, self.turn + 1 if by_order else self.turn)
        self.marks.setdefault(name + ".start", []).append(self.now)
        self.say("begins", name)
        aim = phase["aim"]
        if aim["kind"] == "hold":
            self.aim = {"kind": "hold", "at": num(aim["at"])}
        elif aim["kind"] == "keep":
            self.aim = {
                "kind": "keep",
                "low": num(aim["low"]) if "low" in aim else None,
                "high": num(aim["high"]) if "high" in aim else None,
            }
        elif "rate" not in aim:
            self.aim = {"kind": "reach", "to": num(aim["to"])}
        else:
            origin = num(aim["from"]) if "from" in aim else None
            value = self.value(aim["reading"], self.now)
            if origin is None:
                origin = value
            elif by_order and value is not None:
                past = value > origin if aim["way"] == "warm" else value < origin
                origin = value if past else origin
            self.aim = Course(aim, phase.get("moves"), None, self.now)
            if origin is not None:
                self.aim.anew(origin, self.now)
        self.update_still()

    def finish(self):
        name = self.phases[self.phase]["name"]
        self.say("ends", name)
        self.marks.setdefault(name + ".end", []).append(self.now)
        self.keeps = []
        self.phase, self.aim = None, None
        self.update_still()

    def settle(self):
        if self.phase is None and not self.past and not self.settled:
            self.begin(0, False)
        while True:
            if isinstance(self.aim, Course) and self.aim.origin is None:
                value = self.value(self.phases[self.phase]["aim"]["reading"], self.now)
                if value is not None:
                    self.aim.anew(value, self.now)
            if not self.reached():
                break
            following = self.phase + 1
            self.finish()
            if following == len(self.phases):
                self.say("over")
                self.over = True
                return
            self.begin(following, False)
        self.settled.append((self.now, self.phases[self.phase]["name"]))

    # ---- target

    def band(self):
        """The target as (low, high): the same number twice but for a kept range."""
        if self.aim is None:
            return None
        if isinstance(self.aim, Course):
            at = self.aim.at(self.now)
            return None if at is None else (at, at)
        if self.aim["kind"] == "keep":
            return (self.aim["low"], self.aim["high"])
        at = self.aim["at"] if self.aim["kind"] == "hold" else self.aim["to"]
        return (at, at)

    def target(self):
        """The one number that orders can move, or None."""
        if self.aim is None or (not isinstance(self.aim, Course) and self.aim["kind"] == "keep"):
            return None
        band = self.band()
        return None if band is None else band[0]

    def set_target(self, value):
        if isinstance(self.aim, Course):
            self.aim.anew(value, self.now)
        elif self.aim["kind"] == "hold":
            self.aim["at"] = value
        else:
            self.aim["to"] = value

    def update_still(self):
        paused = bool(self.pauses)
        if paused and self.paused_since is None:
            since, at = self.pause_over
            self.paused_since = since if at == self.now else self.now
        if not paused and self.paused_since is not None:
            self.pause_over = (self.paused_since, self.now)
            self.paused_since = None
        if isinstance(self.aim, Course):
            self.aim.hold_still(paused or bool(self.keeps) or self.stopped, self.now)

    def moved(self, order):
        """Where an order would bring the target; None where it cannot."""
        target = self.target()
        if target is None:
            return None
        kind = order["kind"]
        if kind == "set-target":
            to = num(order["target"])
        elif kind == "raise-target":
            to = max(target, min(target + num(order["by"]), num(order["at_most"])))
        elif kind == "lower-target":
            to = min(target, max(target - num(order["by"]), num(order["at_least"])))
        else:
            to = target
        if isinstance(self.aim, Course):
            to = self.aim.clip(to)
        return to
