"""What looks order, and when."""

from exact import num


class Looks:
    def look_orders(self):
        """The orders of looks whose time this is."""
        orders = []
        self.open_boxes()
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
                if self.is_time(i, num(when["interval"])):
                    orders.extend(self.look_order(what))
            elif when["kind"] == "at":
                wait = num(when["after"]) if "after" in when else 0
                made = self.mark(when["mark"])
                if made is not None and made + wait <= self.now and made != self.at_done[i]:
                    self.at_done[i] = made
                    orders.extend(self.look_order(what))
            elif self.before_now(i, when):
                orders.extend(self.look_order(what))
        for i, since in enumerate(self.look_stretch):
            if since is not None and not any(since is one for one in self.every_done):
                self.every_done.append(since)
        return orders

    def is_time(self, i, interval):
        """Whether it is asked for now, for the first time at this moment."""
        since = self.look_stretch[i]
        if any(since is one for one in self.every_done):
            return False
        return ((self.now - since) / interval).denominator == 1

    def look_order(self, what):
        if what["kind"] == "ask":
            for reading in what["readings"]:
                self.ask_once(reading, 0)
            return []
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
