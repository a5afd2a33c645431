"""The orders of a moment, and those that stand (M3, M13 to M15, M33)."""

from conditions import NO
from course import Course
from exact import Since, num


class Orders:
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
        good = [order for order in wanted if order not in bad]
        soonest = {}
        for order in good:
            if order["kind"] == "call":
                within = num(order["within"]) if "within" in order else 0
                soonest[order["role"]] = min(within, soonest.get(order["role"], within))
        for role, within in soonest.items():
            self.call(role, within)
        # First what begins, last what ends; the others in any order.
        good.sort(key=lambda order: self.TURN.get(order["kind"], 1))
        for order in good:
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
            runs = self.index[name] == self.phase and not self.stopped
            return not runs and name not in self.begun_now
        if kind == "keep-target":
            return isinstance(self.aim, Course) or self.aim["kind"] != "keep"
        if kind in self.MOVES:
            return self.target() is not None
        if kind == "set-rate":
            return isinstance(self.aim, Course)
        return True

    TURN = {"begin": 0, "stop": 2, "stop-medication": 2}
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
        if kind == "ask":
            after = num(order["after"]) if "after" in order else 0
            for reading in order["readings"]:
                self.ask_once(reading, after)
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
