"""Exact numbers, times, and the comparisons that they are asked for."""

from fractions import Fraction


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
