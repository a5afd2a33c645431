"""Doses, infusions and ceilings (M27 to M30)."""

from fractions import Fraction

from exact import compare, num


class Medications:
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
