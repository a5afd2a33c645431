"""Reads tables as a spreadsheet would: JSON texts in, one a line; their rows out."""

import csv
import io
import json
import sys

# All of it first: whoever asks listens only when everything has been asked.
for line in sys.stdin.readlines():
    text = json.loads(line)
    assert text.startswith("\ufeff"), "a byte-order mark, so that every spreadsheet reads the degree sign"
    rows = list(csv.reader(io.StringIO(text[1:], newline=""), strict=True))
    print(json.dumps(rows, ensure_ascii=False))
