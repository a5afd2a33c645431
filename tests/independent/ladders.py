"""Ladders (M26)."""

from fractions import Fraction

from exact import compare, in_band, num


class Ladders:
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
        self.ask_once(self.ladders[name]["reading"], 0)
        return []
