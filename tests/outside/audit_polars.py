"""The measures of one long log by polars: seconds, then a figure a line.

The protocol is that of benches/audit.rs: cool to 33.0 °C, then hold within 0.3 °C, a
reading every minute wanted, so that a record stands for 90 s.
"""

import sys
import time
from fractions import Fraction

import polars as pl

begun = time.perf_counter()
frame = pl.read_csv(sys.argv[1])
parts = pl.col("time").str.split_exact(":", 2)
frame = frame.select(
    (
        parts.struct.field("field_0").cast(pl.Int64) * 3600
        + parts.struct.field("field_1").cast(pl.Int64) * 60
        + parts.struct.field("field_2").cast(pl.Int64)
    ).alias("at"),
    (pl.col("core") * 10).round().cast(pl.Int64).alias("value"),
).sort("at")
reached = frame.filter(pl.col("value") <= 330)["at"][0]
last = frame["at"][-1]
cool = frame.filter(pl.col("at") <= reached)
hold = frame.filter(pl.col("at") >= reached).with_columns(
    (pl.col("at").shift(-1).fill_null(last) - pl.col("at")).clip(upper_bound=90).alias("stands"),
    ((pl.col("value") >= 327) & (pl.col("value") <= 333)).alias("inside"),
    ((pl.col("value") - 330).abs() <= 10).alias("near"),
)
window = 3600 + 15
fall = (
    cool.with_columns(
        pl.col("value")
        .rolling_max_by(
            pl.from_epoch("at", time_unit="s"), window_size=f"{window}s", closed="both"
        )
        .alias("highest")
    )
    .select((pl.col("highest") - pl.col("value")).max())
    .item()
)
sums = hold.select(
    readings=pl.len(),
    inside=pl.col("inside").sum(),
    near=pl.col("near").sum(),
    known=pl.col("stands").sum(),
    inside_time=pl.col("stands").filter("inside").sum(),
    near_time=pl.col("stands").filter("near").sum(),
    below=pl.col("stands").filter(pl.col("value") < 327).sum(),
    above=pl.col("stands").filter(pl.col("value") > 333).sum(),
    low=pl.col("value").min(),
    high=pl.col("value").max(),
).row(0, named=True)
seconds = time.perf_counter() - begun


def show(key, top, bottom):
    value = Fraction(top, bottom)
    places = value.denominator
    for factor in (2, 5):
        while places % factor == 0:
            places //= factor
    if places != 1:
        print(key, f"{value.numerator}/{value.denominator}")
        return
    digits = 0
    while (value * 10**digits).denominator != 1:
        digits += 1
    if digits > 9:
        print(key, f"{value.numerator}/{value.denominator}")
    else:
        print(key, f"{int(value * 10**digits) / 10**digits:.{digits}f}")


print(f"{seconds:.3f}")
show("cool.time-to-target", reached, 60)
show("cool.fastest-fall", fall, 10)
show("hold.readings", sums["readings"], 1)
show("hold.share-of-readings-in-band", sums["inside"], sums["readings"])
show("hold.share-of-time-in-band", sums["inside_time"], sums["known"])
show("hold.share-of-readings-within-1", sums["near"], sums["readings"])
show("hold.share-of-time-within-1", sums["near_time"], sums["known"])
show("hold.time-known", sums["known"], 60)
show("hold.time-below-band", sums["below"], 60)
show("hold.time-above-band", sums["above"], 60)
show("hold.depth-below-band", max(0, 327 - sums["low"]), 10)
show("hold.depth-above-band", max(0, sums["high"] - 333), 10)
