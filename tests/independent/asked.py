"""Entries that are asked for, whether they are made, and calls (M5, M16)."""

import math
from fractions import Fraction

from exact import num


class Asked:
    # ---- boxes of looks

    def open_boxes(self):
        """The boxes whose time this is: of several looks one has it."""
        asking = []
        for i, look in enumerate(self.looks):
            when, what = look["when"], look["what"]
            since = self.look_stretch[i]
            if when["kind"] != "every" or what["kind"] != "ask" or since is None:
                continue
            interval = num(when["interval"])
            if self.is_time(i, interval):
                during = sorted({self.index[phase] for phase in when.get("during", [])})
                turn = (interval, -len(during) if during else -math.inf, during, i)
                asking += [(turn, interval, reading, since) for reading in what["readings"]]
        for turn, interval, reading, since in asking:
            if any(other[2] == reading and other[0] < turn for other in asking):
                continue
            self.boxes.append(
                {"reading": reading, "due": self.now, "every": interval, "of": since, "over": None}
            )
            self.say("due", reading, str(self.now))

    def close_boxes(self, since):
        """A stretch has ended, and its boxes with it."""
        for box in self.boxes:
            if since is None or box["of"] is since:
                box["over"] = self.now if box["over"] is None else box["over"]

    def boxes_filled(self):
        """Which boxes were filled, and which were missed, looked up in the whole record."""
        for box in self.boxes:
            due, every, over = box["due"], box["every"], box["over"]
            first = due if due == box["of"] else due - every / 4
            next_opens = due + every * Fraction(3, 4)
            made = [
                time
                for time, _ in self.records[box["reading"]]
                if first <= time < next_opens and (over is None or time <= over)
            ]
            said = [box["reading"], str(due)]
            if made:
                late = made[0] > due + every / 4
                self.out.append([str(max(made[0], due)), "made", *said, late])
            elif over is not None and over < next_opens:
                if over > due + every / 4:
                    self.out.append([str(over), "missed", *said])
            elif next_opens <= self.until:
                self.out.append([str(next_opens), "missed", *said])

    # ---- entries asked for once

    def ask_once(self, reading, after):
        for ask in self.asks:
            if ask["reading"] == reading and ask["after"] == after:
                if ask["due"] >= self.now:
                    return
                self.asks.remove(ask)
                self.say("missed", reading, str(ask["due"]))
                break
        due = self.now + after
        self.say("due", reading, str(due))
        if after == 0 and self.recorded_now(reading):
            self.say("made", reading, str(due), False)
        else:
            self.asks.append({"reading": reading, "after": after, "due": due})

    def answer_asks(self, readings):
        for ask in list(self.asks):
            quarter = ask["after"] / 4
            if ask["reading"] in readings and self.now >= ask["due"] - quarter:
                late = ask["after"] > 0 and self.now > ask["due"] + quarter
                self.say("made", ask["reading"], str(ask["due"]), late)
                self.asks.remove(ask)

    # ---- calls

    def call(self, role, within):
        by = self.now + within
        known = self.open_calls.get(role)
        if known is not None and self.now <= known <= by:
            return
        self.open_calls[role] = by
        chain, called, at = [], [role], by
        after = self.people[role].get("no_reply")
        while after and after["then"] not in called:
            at += num(after["within"])
            called.append(after["then"])
            chain.append([str(at), after["then"]])
            after = self.people[after["then"]].get("no_reply")
        self.say("call", role, str(by), chain)
