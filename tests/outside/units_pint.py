"""Random conversions worked out by pint, as an outside check of the unit table.

    python3 units_pint.py SEED COUNT < units

Reads one unit a line, `NAME <tab> KIND`, where KIND names units that can be
converted into each other. Writes one conversion a line, separated by tabs:

    convert  NUMBER UNIT    NUMBER UNIT     the same amount in another unit
    celsius  NUMBER UNIT    NUMBER °C       a temperature (with its zero point)
    change   NUMBER UNIT    NUMBER °C       a difference of temperatures
    pump     RATE UNIT  WEIGHT kg  CONCENTRATION UNIT    NUMBER mL/h

pint counts in fractions here, so every answer is exact and must be met exactly.
"""

import random
import sys
from fractions import Fraction

import pint

PINNED = "0.25.3"

# Names of ours that pint spells differently. Its µg is never printed by us.
SPELLED = {
    "mcg": "microgram",
    "micrograms": "microgram",
    "days": "day",
    "weeks": "week",
    "months": "month",
    "years": "year",
    "h": "hour",
    "min": "minute",
    "s": "second",
    "°C": "delta_degC",
    "°F": "delta_degF",
}


def spelled(unit):
    """Our unit in pint's words: `mcg/kg/min` is microgram/kg/minute."""
    return "/".join(SPELLED.get(part, part) for part in unit.split("/"))


def number(draw):
    """A number such as a protocol writes: up to 3 decimals, or a small fraction."""
    if draw.random() < 0.15:
        top, bottom = draw.randint(1, 20), draw.randint(2, 12)
        return f"{top}/{bottom}", Fraction(top, bottom)
    places = draw.randint(0, 3)
    value = Fraction(draw.randint(1, 99999), 10**places)
    whole, rest = divmod(value.numerator * 10**places // value.denominator, 10**places)
    text = f"{whole}.{rest:0{places}}" if places else str(whole)
    return text, value


def shown(value):
    return str(Fraction(value))


def main():
    if pint.__version__ != PINNED:
        sys.exit(f"pint {PINNED} is wanted, this is {pint.__version__}")
    draw = random.Random(int(sys.argv[1]))
    count = int(sys.argv[2])
    registry = pint.UnitRegistry(non_int_type=Fraction)
    quantity = registry.Quantity

    kinds = {}
    for line in sys.stdin.read().splitlines():
        unit, kind = line.split("\t")
        kinds.setdefault(kind, []).append(unit)
    several = sorted(kind for kind in kinds if len(kinds[kind]) > 1)
    rates = kinds["Infusion Mass"] + kinds["InfusionPerKg Mass"]

    for _ in range(count):
        kind = draw.choice(several)
        source, target = draw.choice(kinds[kind]), draw.choice(kinds[kind])
        text, value = number(draw)
        answer = quantity(value, spelled(source)).to(spelled(target)).magnitude
        print("convert", f"{text} {source}", f"{shown(answer)} {target}", sep="\t")

        text, value = number(draw)
        for name, way, there in (
            ("celsius", "degF", "degC"),
            ("change", "delta_degF", "delta_degC"),
        ):
            answer = quantity(value, way).to(there).magnitude
            print(name, f"{text} °F", f"{shown(answer)} °C", sep="\t")

        unit, strength = draw.choice(rates), draw.choice(kinds["Concentration Mass"])
        text, value = number(draw)
        kilograms, weight = number(draw)
        dense, concentration = number(draw)
        rate = quantity(value, spelled(unit))
        if "/kg" in unit:
            rate = rate * quantity(weight, "kg")
        answer = (rate / quantity(concentration, spelled(strength))).to("mL/hour").magnitude
        print(
            "pump",
            f"{text} {unit}",
            f"{kilograms} kg",
            f"{dense} {strength}",
            f"{shown(answer)} mL/h",
            sep="\t",
        )


main()
