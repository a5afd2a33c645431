"""Says what a rule file orders on a record, written from grammar/MEANING.md alone.

Nothing of the program is used: the file, the record, exact fractions. Where the
program keeps windows and moves them along, this looks every answer up in the whole
record, so that the two do not share a mistake by sharing a method.

Reads cases from standard input, one JSON document a line:
    {"file": PATH, "weight": "80" or null, "marks": {"rosc": "-120"},
     "entries": [["0", "record", "core", "36.4"], ["30", "mark", "seen"]], "until": "600"}
Prints one line for each case: a JSON list of what happened, in the order of time:
    ["180", "begins", "hold"], ["300", "fires", "cold-water"], ["300", "order", {...}]
"""

import json
import math
import sys
from fractions import Fraction

YES, NO, UNDECIDED = "yes", "no", "undecided"


def num(quantity):
    """The exact value of a quantity, or of a bare number in words."""
    return Fraction(quantity["value"] if isinstance(quantity, dict) else quantity)


def by_name(things):
    return {thing["name"]: thing for thing in things}


class Since(Fraction):
    """A time at which something began, and in which pass of its moment."""

    def __new__(cls, time, turn):
        made = super().__new__(cls, time)
        made.turn = turn
        return made


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


class Run:
    def __init__(self, file, weight, marks, entries, until):
        p = file["protocol"]
        self.p = p
        self.readings = by_name(p.get("readings", []))
        self.phases = p["phases"]
        self.index = {phase["name"]: i for i, phase in enumerate(self.phases)}
        self.looks = p.get("looks", [])
        self.rules = p.get("rules", [])
        self.ladders = by_name(p.get("ladders", []))
        self.medications = by_name(p.get("medications", []))
        self.weight = None if weight is None else Fraction(weight)
        self.out = []
        self.until = Fraction(until)
        self.marks = {"start": [Fraction(0)]}
        self.entries = {}
        for mark, at in marks.items():
            at = Fraction(at)
            if at <= 0:
                self.marks.setdefault(mark, []).append(at)
            else:
                self.entries.setdefault(at, []).append(("mark", mark))
        for at, *entry in entries:
            self.entries.setdefault(Fraction(at), []).append(tuple(entry))

        self.now = None
        self.past = []  # moments that are over
        self.records = {name: [] for name in self.readings}  # [time, value]
        self.settled = []  # (time, phase): which ran once the phases had settled
        self.phase = None  # index
        self.since = None
        self.by_order = False
        self.over = False
        self.stopped = False
        self.targets = {}  # moment -> target before its orders
        self.aim = None
        self.pauses = []  # [order, Until]
        self.keeps = []
        self.withheld = []  # (medication, order, until)
        self.paused_since = None
        self.rule_stretch = [None] * len(self.rules)
        self.fired = [None] * len(self.rules)
        self.look_stretch = [None] * len(self.looks)
        self.at_done = [None for _ in self.looks]
        self.before_done = [None for _ in self.looks]
        self.ladder_state = {name: ("rest",) for name in self.ladders}
        self.chose = {}
        self.doses = {name: [] for name in self.medications}  # (time, amount)
        self.dose_runs = {name: None for name in self.medications}
        self.infusion = {name: None for name in self.medications}
        self.ran = {name: [] for name in self.medications}  # [from, to, per hour]
        self.ran_out = set()

    # ---- what is known

    def say(self, *what):
        self.out.append([str(self.now), *what])

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

    # ---- conditions

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
        passes = self.targets.get(at, [])
        turn = since.turn if since == at else 0
        target = passes[turn] if turn < len(passes) else self.band()
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

    # ---- phases

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
            self.paused_since = self.now
        if not paused:
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

    # ---- orders that stand

    def until_over(self, until, since):
        kind = until["kind"]
        if self.now <= since:
            return False
        if kind == "for":
            return self.now >= since + num(until["duration"])
        if kind == "mark":
            return any(time > since for time in self.marks.get(until["mark"], []))
        return self.holds(until["condition"], since)

    def end_standing(self):
        for standing in (self.pauses, self.keeps, self.withheld):
            for one in list(standing):
                order, since = one
                if self.until_over(order["until"], since):
                    standing.remove(one)
        self.update_still()

    # ---- medications

    def dose_line(self, med):
        for line in med.get("doses", []):
            tests = line.get("when_weight", [])
            if all(
                self.weight is not None and compare(t["is"], self.weight, num(t["weight"]))
                for t in tests
            ):
                return line
        return None

    def per_patient(self, quantity):
        if "/kg" in quantity["ucum"]:
            return None if self.weight is None else num(quantity) * self.weight
        return num(quantity)

    def substance(self, quantity):
        return quantity["ucum"].split("/")[0]

    def amount(self, med, line):
        """What is given on a dose line, in the unit of its dose."""
        amount = self.per_patient(line["dose"])
        if amount is None:
            return None
        unit = self.substance(line["dose"])
        if "at_most" in line:
            most = self.per_patient(line["at_most"])
            if most is None or self.substance(line["at_most"]) != unit:
                return None
            amount = min(amount, most)
        step = med.get("rounded_to")
        if step and not step["ucum"].endswith("/h"):
            by = num(step)
            if self.substance(step) != unit:
                strength = med.get("concentration")
                if step["ucum"] != "mL" or not strength or self.substance(strength) != unit:
                    return None
                by = by * num(strength)
            amount = (amount // by) * by
        return amount

    def counted(self, med, amount, unit):
        """An amount in the unit of the ceiling."""
        if "ceiling" not in med:
            return amount
        wanted = self.substance(med["ceiling"]["dose"])
        if unit == wanted:
            return amount
        strength = med.get("concentration")
        if not strength:
            return None
        if unit == "mL" and self.substance(strength) == wanted:
            return amount * num(strength)
        if wanted == "mL" and self.substance(strength) == unit:
            return amount / num(strength)
        return None

    def past_ceiling(self, name, dose):
        med = self.medications[name]
        if "ceiling" not in med:
            return False
        most = self.per_patient(med["ceiling"]["dose"])
        if most is None:
            return True
        since = self.now - num(med["ceiling"]["per"])
        total = sum(amount for at, amount in self.doses[name] if at > since and amount is not None)
        for begin, end, per_hour in self.ran[name]:
            minutes = (self.now if end is None else end) - max(begin, since)
            if minutes > 0:
                total += minutes / 60 * per_hour
        if dose is None:
            return total >= most
        return total + dose > most

    def runs(self, name):
        until = self.dose_runs[name]
        return self.infusion[name] is not None or (until is not None and self.now < until)

    def cannot(self, kind, name):
        """Whether a medication order is not done now."""
        med = self.medications[name]
        running = self.infusion[name]
        line = med.get("infusion")
        if kind == "lower-rate":
            return running is None or running["rate"] <= num(line["first"])
        if any(order["medication"] == name for order, _ in self.withheld):
            return True
        if med.get("only_with") and not any(self.runs(other) for other in med["only_with"]):
            return True
        if name in self.ran_out:
            return True
        if kind == "raise-rate":
            if running is None or "step" not in line or running["rate"] >= num(line["top"]):
                return True
            if "step_every" in line and self.now < running["changed"] + num(line["step_every"]):
                return True
            return self.past_ceiling(name, None)
        dose = self.dose_line(med)
        if dose is None and med.get("doses"):
            return True
        if dose and "not_again_within" in dose and self.doses[name]:
            if self.now < self.doses[name][-1][0] + num(dose["not_again_within"]):
                return True
        if line and self.per_patient(line["first"]) is None:
            return True
        amount = None
        if dose:
            amount = self.amount(med, dose)
            if amount is None:
                return True
            amount = self.counted(med, amount, self.substance(dose["dose"]))
            if amount is None:
                return True
        return self.past_ceiling(name, amount)

    def flow(self, name, rate):
        """Notes that it runs at this rate from now on; None ends it."""
        ran = self.ran[name]
        if ran and ran[-1][1] is None:
            ran[-1][1] = self.now
        if rate is None:
            return
        med = self.medications[name]
        first = med["infusion"]["first"]
        per_hour = rate * (self.weight if "/kg" in first["ucum"] else 1)
        counted = self.counted(med, per_hour, self.substance(first))
        ran.append([self.now, None, counted if counted is not None else Fraction(0)])

    def give(self, name):
        med = self.medications[name]
        dose = self.dose_line(med)
        if dose:
            amount = self.amount(med, dose)
            counted = self.counted(med, amount, self.substance(dose["dose"]))
            self.doses[name].append((self.now, counted))
            self.dose_runs[name] = self.now + num(dose["over"]) if "over" in dose else None
            self.say("dose", name, str(amount))
        if "infusion" in med and self.infusion[name] is None:
            rate = num(med["infusion"]["first"])
            self.infusion[name] = {"rate": rate, "changed": self.now, "since": self.now}
            self.flow(name, rate)
            self.say("rate", name, str(rate))

    def step_rate(self, name, up):
        line = self.medications[name]["infusion"]
        first = num(line["first"])
        top = num(line["top"]) if "top" in line else first
        step = num(line["step"]) if "step" in line else top - first
        running = self.infusion[name]
        running["rate"] = min(running["rate"] + step, top) if up else max(running["rate"] - step, first)
        running["changed"] = self.now
        self.flow(name, running["rate"])
        self.say("rate", name, str(running["rate"]))

    def stop_medication(self, name):
        if self.infusion[name] is not None:
            self.infusion[name] = None
            self.flow(name, None)

    def run_out(self):
        for name, running in self.infusion.items():
            line = self.medications[name].get("infusion", {})
            if running and "for_at_most" in line:
                if self.now >= running["since"] + num(line["for_at_most"]):
                    self.stop_medication(name)
                    self.ran_out.add(name)

    # ---- looks

    def look_orders(self):
        """The orders of looks whose time this is."""
        orders = []
        for i, look in enumerate(self.looks):
            when, what = look["when"], look["what"]
            if when["kind"] == "every":
                since = self.look_stretch[i]
                if since is None:
                    continue
                if what["kind"] == "ask":
                    if "then_follow" in what:
                        reading = self.ladders[what["then_follow"]]["reading"]
                        if self.recorded_now(reading):
                            orders.extend(self.follow(what["then_follow"]))
                    continue
                times = (self.now - since) / num(when["interval"])
                if times.denominator == 1 and (i, self.now) not in self.every_done:
                    self.every_done.add((i, self.now))
                    orders.extend(self.look_order(what))
            elif when["kind"] == "at":
                wait = num(when["after"]) if "after" in when else 0
                made = self.mark(when["mark"])
                if made is not None and made + wait <= self.now and made != self.at_done[i]:
                    self.at_done[i] = made
                    orders.extend(self.look_order(what))
            elif self.before_now(i, when):
                orders.extend(self.look_order(what))
        return orders

    def look_order(self, what):
        if what["kind"] == "do":
            return [dict(what)]
        if what["kind"] == "give":
            return [{"kind": "give", "medication": what["medication"]}]
        if what["kind"] == "order":
            return [what["line"]["order"]]
        return []

    def before_now(self, i, when):
        phase = when["phase"]
        if self.phases[self.phase]["name"] == phase:
            begun = self.mark(phase + ".start")
            missed = self.before_done[i] not in ("coming", begun)
            self.before_done[i] = begun
            return missed
        start = self.planned_start(phase)
        if start is not None and start - num(when["before"]) <= self.now:
            if self.before_done[i] != "coming":
                self.before_done[i] = "coming"
                return True
        return False

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

    # ---- ladders

    def recorded_now(self, reading):
        records = self.records[reading]
        return bool(records) and records[-1][0] == self.now

    def choose(self, name, step):
        ladder = self.ladders[name]
        value = self.records[ladder["reading"]][-1][1]
        self.chose[name] = self.now
        chosen = None
        if "rungs" in ladder:
            for i, rung in enumerate(ladder["rungs"]):
                if in_band(rung["band"], value):
                    chosen, step = rung, i
                    self.say("rung", name, i)
                    break
        elif not self.goal_met(ladder["goal"], value) and step < len(ladder["steps"]):
            chosen = ladder["steps"][step]
            self.say("step", name, step)
        if chosen is None or "recheck" not in chosen:
            self.ladder_state[name] = ("rest",)
        else:
            self.ladder_state[name] = ("recheck", step, self.now, num(chosen["recheck"]))
        return [line["order"] for line in chosen["orders"]] if chosen else []

    def goal_met(self, goal, value):
        if goal["kind"] == "is":
            return value == goal["word"]
        return compare(goal["is"], value, num(goal["level"]))

    def answered(self):
        """The orders of ladders that a record of this moment answers."""
        orders = []
        for name, ladder in self.ladders.items():
            if not self.recorded_now(ladder["reading"]) or self.chose.get(name) == self.now:
                continue
            state = self.ladder_state[name]
            if state[0] == "asked":
                orders.extend(self.choose(name, 0))
            elif state[0] == "recheck":
                _, step, since, recheck = state
                if self.now >= since + recheck * Fraction(3, 4):
                    orders.extend(self.choose(name, step + 1))
        return orders

    def follow(self, name):
        if self.ladder_state[name][0] != "rest" or self.chose.get(name) == self.now:
            return []
        if self.recorded_now(self.ladders[name]["reading"]):
            return self.choose(name, 0)
        self.ladder_state[name] = ("asked",)
        return []

    # ---- a moment

    def enter(self, entries):
        for kind, *rest in entries:
            if self.over:
                if kind == "record":
                    self.say("refused", rest[0])
                continue
            if kind == "mark":
                self.marks.setdefault(rest[0], []).append(self.now)
                continue
            reading, text = rest
            value = text if self.readings[reading]["what"]["kind"] == "choice" else Fraction(text)
            if self.refused(reading, value):
                self.say("refused", reading)
                continue
            records = self.records[reading]
            if records and records[-1][0] == self.now:
                records[-1] = (self.now, value)
            else:
                records.append((self.now, value))

    def refused(self, name, value):
        reading = self.readings[name]
        what = reading["what"]
        if what["kind"] == "choice":
            return value not in what["words"]
        if what["kind"] == "score":
            return value.denominator != 1 or not what["low"] <= value <= what["high"]
        if "reads" in reading:
            low, high = num(reading["reads"]["low"]), num(reading["reads"]["high"])
        else:
            low, high = {"body": (20, 45), "medium": (0, 100)}[what["kind"]]
        step = num(reading["shown_to"])
        shown = value
        if reading["shown_to"]["written"].endswith("°F"):
            shown, step = value * 9 / 5 + 32, step * 9 / 5
        return not low <= value <= high or (shown / step).denominator != 1

    def moment(self):
        self.enter(self.entries.get(self.now, []))
        if self.over:
            return
        self.turn = 0
        self.begun_now = set()
        self.every_done = set()
        while True:
            self.settle()
            if self.over:
                break
            self.stretches()
            self.run_out()
            self.end_standing()
            self.targets.setdefault(self.now, []).append(self.band())
            if not self.give_orders():
                break
            self.turn += 1
        self.past.append(self.now)
        if self.now in self.entries and not self.over:
            band = self.band()
            self.say("target", [] if band is None else [None if end is None else str(end) for end in band])

    def stretches(self):
        """Which stretches go on, begin and end."""
        name = self.phases[self.phase]["name"]
        for i, rule in enumerate(self.rules):
            if not rule.get("during") or name in rule["during"]:
                if self.rule_stretch[i] is None:
                    self.rule_stretch[i] = Since(self.now, self.turn)
            else:
                self.rule_stretch[i] = None
                self.fired[i] = None
        for i, look in enumerate(self.looks):
            if look["when"]["kind"] != "every":
                continue
            during = look["when"].get("during")
            if not during or name in during:
                if self.look_stretch[i] is None:
                    self.look_stretch[i] = Since(self.now, self.turn)
            else:
                self.look_stretch[i] = None

    def firing(self):
        holding = set()
        for i, rule in enumerate(self.rules):
            if self.rule_stretch[i] is not None and self.holds(rule["when"], self.rule_stretch[i]):
                holding.add(rule["name"])
        silenced = set()
        for rule in self.rules:
            if rule["name"] in holding:
                silenced.update(rule.get("overrides", []))
        fires = []
        for i, rule in enumerate(self.rules):
            since = self.rule_stretch[i]
            if since is None:
                continue
            fired = self.fired[i]
            if fired is not None and self.now > fired and self.released(rule, since, fired):
                self.fired[i] = fired = None
            if fired is None and rule["name"] in holding and rule["name"] not in silenced:
                fires.append(rule)
                self.fired[i] = self.now
        return fires

    def released(self, rule, since, fired):
        if "again_after" in rule and self.now >= fired + num(rule["again_after"]):
            return True
        if "ready_again" in rule:
            return self.holds(rule["ready_again"], since)
        return self.truth(rule["when"], since) == NO

    def give_orders(self):
        """Collects, sorts out and carries out; whether a phase was begun by order."""
        orders = self.answered() if self.turn == 0 else []
        orders += self.look_orders()
        for rule in self.firing():
            self.say("fires", rule["name"])
            orders += [line["order"] for line in rule["then"]]
        wanted = []
        queue = list(orders)
        while queue:
            order = queue.pop(0)
            kind = order["kind"]
            if kind in ("give", "raise-rate", "lower-rate"):
                if self.cannot(kind, order["medication"]):
                    self.say("not given", order["medication"])
                    if "otherwise" in order:
                        queue.insert(0, order["otherwise"]["order"])
                    continue
                order = {name: part for name, part in order.items() if name != "otherwise"}
            if order in wanted:
                continue
            wanted.append(order)
            if kind == "follow-ladder":
                queue[0:0] = self.follow(order["ladder"])
        bad = [
            order
            for order in wanted
            if any(self.contradicts(order, other) for other in wanted if other is not order)
        ]
        for order in bad:
            self.say("contradicted", order)
        begun = False
        for order in wanted:
            if order in bad:
                continue
            if not self.can(order):
                self.say("not done", order)
                continue
            self.say("order", order)
            begun = self.carry_out(order) or begun
        return begun

    def can(self, order):
        """Whether an order can be done as the phases and the target are."""
        kind = order["kind"]
        if kind == "begin":
            name = order["phase"]
            return self.index[name] != self.phase and name not in self.begun_now
        if kind == "keep-target":
            return isinstance(self.aim, Course) or self.aim["kind"] != "keep"
        if kind in self.MOVES:
            return self.target() is not None
        if kind == "set-rate":
            return isinstance(self.aim, Course)
        return True

    MOVES = ("set-target", "raise-target", "lower-target", "keep-target")

    def contradicts(self, a, b):
        return self.against(a, b) or self.against(b, a)

    def against(self, a, b):
        one, other = a["kind"], b["kind"]
        if one == "raise-target" and other == "lower-target":
            return True
        if one in self.MOVES and other in self.MOVES:
            return self.moved(a) != self.moved(b)
        if one == "set-rate" and other == "set-rate":
            return num(a["rate"]) != num(b["rate"])
        if one in self.MOVES and one != "keep-target" and other in ("pause", "stop"):
            return True
        if one == "begin" and other == "begin":
            return a["phase"] != b["phase"]
        if one == "begin" and other == "stop":
            return True
        if one in ("give", "raise-rate") and other in ("withhold", "stop-medication", "lower-rate"):
            return a["medication"] == b["medication"]
        return False

    def carry_out(self, order):
        kind = order["kind"]
        if kind == "begin":
            index = self.index[order["phase"]]
            self.begun_now.add(order["phase"])
            self.stopped = False
            self.finish()
            self.begin(index, True)
            return True
        if kind in ("set-target", "raise-target", "lower-target"):
            self.set_target(self.moved(order))
        elif kind == "set-rate":
            if self.aim.origin is not None:
                self.aim.anew(self.aim.at(self.now), self.now)
            self.aim.rate = num(order["rate"])
        elif kind == "keep-target":
            self.stand(self.keeps, order)
        elif kind == "pause":
            self.stand(self.pauses, order)
        elif kind == "stop":
            self.pauses = []
            self.stopped = True
        elif kind == "withhold":
            self.stand(self.withheld, order)
        elif kind == "give":
            self.give(order["medication"])
        elif kind in ("raise-rate", "lower-rate"):
            self.step_rate(order["medication"], kind == "raise-rate")
        elif kind == "stop-medication":
            self.stop_medication(order["medication"])
        self.update_still()
        return False

    def stand(self, standing, order):
        standing[:] = [one for one in standing if one[0] != order]
        standing.append((order, Since(self.now, self.turn)))

    # ---- from moment to moment

    def coming(self):
        """Times at which time alone may change something."""
        phase = self.phases[self.phase]
        end = phase["end"]
        yield self.due()
        if end["kind"] == "lasts":
            yield self.since + num(end["duration"])
        if end["kind"] == "after" and self.mark(end["mark"]) is not None:
            yield self.mark(end["mark"]) + num(end["after"])
        for bound in ("at_least", "at_most"):
            if bound in end:
                yield self.since + num(end[bound])
        if end["kind"] == "when":
            yield from self.clocks(end["condition"], self.since)
        if isinstance(self.aim, Course) and not self.aim.still:
            arrives = self.aim.arrives(self.now)
            yield arrives
            if self.aim.every is not None and arrives is not None and self.now < arrives:
                k = (self.now - self.aim.since) // self.aim.every + 1
                yield self.aim.since + k * self.aim.every
        for i, rule in enumerate(self.rules):
            since = self.rule_stretch[i]
            if since is None:
                continue
            yield from self.clocks(rule["when"], since)
            if "ready_again" in rule:
                yield from self.clocks(rule["ready_again"], since)
            if "again_after" in rule and self.fired[i] is not None:
                yield self.fired[i] + num(rule["again_after"])
        for order, since in self.pauses + self.keeps + self.withheld:
            until = order["until"]
            if until["kind"] == "for":
                yield since + num(until["duration"])
            elif until["kind"] == "when":
                yield from self.clocks(until["condition"], since)
        for i, look in enumerate(self.looks):
            when = look["when"]
            if when["kind"] == "every" and self.look_stretch[i] is not None:
                since, d = self.look_stretch[i], num(when["interval"])
                yield since + ((self.now - since) // d + 1) * d
            elif when["kind"] == "at" and self.mark(when["mark"]) is not None:
                yield self.mark(when["mark"]) + (num(when["after"]) if "after" in when else 0)
            elif when["kind"] == "before":
                start = self.planned_start(when["phase"])
                if start is not None:
                    yield start - num(when["before"])
        for state in self.ladder_state.values():
            if state[0] == "recheck":
                yield state[2] + state[3]
        for name, running in self.infusion.items():
            line = self.medications[name].get("infusion", {})
            if running and "for_at_most" in line:
                yield running["since"] + num(line["for_at_most"])

    def run(self):
        times = sorted(time for time in self.entries if time >= 0)
        self.now = Fraction(0)
        while True:
            self.moment()
            nexts = [time for time in times if time > self.now]
            if not self.over:
                nexts += [t for t in self.coming() if t is not None and t > self.now]
            nexts = [t for t in nexts if t <= self.until]
            if not nexts:
                return self.out
            self.now = min(nexts)


def compare(is_, value, level):
    return {
        "below": value < level,
        "above": value > level,
        "at-or-below": value <= level,
        "at-or-above": value >= level,
    }[is_]


def in_band(band, value):
    if band["kind"] == "values":
        return num(band["low"]) <= value <= num(band["high"])
    return compare(band["is"], value, num(band["level"]))


def main():
    files = {}
    for line in sys.stdin:
        case = json.loads(line)
        if "define" in case:
            files[case["define"]] = case["file"]
            continue
        file = case["file"]
        if isinstance(file, str):
            file = files[file]
        run = Run(file, case["weight"], case["marks"], case["entries"], case["until"])
        print(json.dumps(run.run(), ensure_ascii=False))


if __name__ == "__main__":
    main()
