"""Says what a rule file orders on a record, written from grammar/MEANING.md alone.

Nothing of the program is used: the file, the record, exact fractions. Where the
program keeps windows and moves them along, this looks every answer up in the whole
record, so that the two do not share a mistake by sharing a method.

Reads cases from standard input, one JSON document a line:
    {"file": PATH, "weight": "80" or null, "marks": {"rosc": "-120"},
     "entries": [["0", "record", "core", "36.4"], ["30", "mark", "seen"]], "until": "600"}
Prints one line for each case: a JSON list of what happened, in the order of time:
    ["180", "begins", "hold"], ["300", "fires", "cold-water"], ["300", "order", {...}]
    ["300", "due", "core", "300"], ["315", "made", "core", "300", false],
    ["300", "call", "doctor", "330", [["345", "consultant"]]], …
"""

import json
import sys
from fractions import Fraction

# What Python would keep of these files has no place in the project.
sys.dont_write_bytecode = True

from asked import Asked
from conditions import Conditions
from course import Course
from exact import Since, by_name, num
from known import Known
from ladders import Ladders
from looks import Looks
from measured import Measures
from medications import Medications
from orders import Orders
from phases import Phases
from planned import Planned


class Run(Known, Conditions, Phases, Medications, Looks, Planned, Ladders, Orders, Asked, Measures):
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
        self.pause_over = (None, None)  # since when the last one had been, and its end
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
        self.people = by_name(p.get("people", []))
        self.boxes = []
        self.asks = []
        self.open_calls = {}
        self.measures = p.get("measures", [])
        self.measure_stretch = [None] * len(self.measures)
        self.measured = [
            dict.fromkeys(("held", "known", "unknown", "area"), Fraction(0)) for _ in self.measures
        ]
        self.after_all = {}

    def say(self, *what):
        self.out.append([str(self.now), *what])

    # ---- a moment

    def enter(self, entries):
        entered = set()
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
            entered.add(reading)
        self.answer_asks(entered)

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
        self.every_done = []
        while True:
            self.settle()
            if self.over:
                self.close_boxes(None)
                break
            self.stretches()
            self.run_out()
            self.end_standing()
            self.targets.setdefault(self.now, []).append(self.band())
            if not self.give_orders():
                break
            self.turn += 1
        self.past.append(self.now)
        self.measure_stretches()
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
            elif self.look_stretch[i] is not None:
                self.close_boxes(self.look_stretch[i])
                self.look_stretch[i] = None

    # ---- from moment to moment

    def coming(self):
        """Times at which time alone may change something."""
        phase = self.phases[self.phase]
        end = phase["end"]
        yield self.due()
        if not self.stopped:
            yield from self.ends(end)
        if isinstance(self.aim, Course) and not self.aim.still:
            arrives = self.aim.arrives(self.now)
            yield arrives
            if self.aim.every is not None and arrives is not None and self.now < arrives:
                yield self.aim.next_move(self.now)
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

    def ends(self, end):
        """Times at which the running phase may end by time."""
        if end["kind"] == "lasts":
            yield self.since + num(end["duration"])
        if end["kind"] == "after" and self.mark(end["mark"]) is not None:
            yield self.mark(end["mark"]) + num(end["after"])
        for bound in ("at_least", "at_most"):
            if bound in end:
                yield self.since + num(end[bound])
        if end["kind"] == "when":
            yield from self.clocks(end["condition"], self.since)

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
                self.measure_until(self.until)
                self.boxes_filled()
                self.say_measures()
                return self.out
            self.measure_until(min(nexts))
            self.now = min(nexts)


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
