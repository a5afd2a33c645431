"""The flagship's case sheet as a whole process, beside two general-purpose typesetters.

    cargo build --release
    python3 -m pip install typst==0.15.2 weasyprint==70.0
    python3 benches/typesetters.py

`typst` sets the words and tables of the same sheet; `weasyprint` prints its HTML page. Each is
started anew as a process of its own, seven times; the median counts. The load of the machine is
said with it: only the ratio of one run means something.
"""

import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from html.parser import HTMLParser

CASE = ["--start", "2026-11-24T14:30", "--mark", "rosc=13:05", "--weight", "82 kg"]
PROTOCOL = "protocols/adult-arrest-33.protocol"


class Typst(HTMLParser):
    """The sheet's tables and paragraphs as typst markup; no layout of our own is rebuilt."""

    def __init__(self):
        super().__init__()
        self.out = ['#set page("a4", margin: 10mm)\n#set text(9.5pt)\n']
        self.words, self.row, self.rows, self.skip = [], [], [], 0

    def said(self):
        text = re.sub(r"\s+", " ", "".join(self.words)).strip()
        self.words = []
        return '#"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'

    def handle_starttag(self, tag, attributes):
        if tag in ("style", "title", "svg"):
            self.skip += 1
        if tag == "table":
            self.rows = []
        elif tag == "tr":
            self.row = []
        elif tag in ("td", "th", "p", "li", "h1", "h2", "h3"):
            self.words = []

    def handle_endtag(self, tag):
        if tag in ("style", "title", "svg"):
            self.skip -= 1
        if tag in ("td", "th"):
            self.row.append(self.said())
        elif tag == "tr":
            self.rows.append(self.row)
        elif tag in ("p", "li", "h1", "h2", "h3") and self.words:
            self.out.append(self.said() + "\n\n")
        elif tag == "table" and self.rows:
            count = max(len(row) for row in self.rows)
            cells = [
                f"table.cell(colspan: {count})[{row[0]}]" if len(row) == 1 else
                ", ".join(f"[{cell}]" for cell in row + [""] * (count - len(row)))
                for row in self.rows if row
            ]
            body = ",\n".join(cells)
            self.out.append(f"#table(columns: ({'1fr, ' * count}), inset: 4pt, {body})\n\n")

    def handle_data(self, data):
        if not self.skip:
            self.words.append(data)


def median(command):
    times = []
    for _ in range(7):
        start = time.perf_counter()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        times.append((time.perf_counter() - start) * 1000)
    return statistics.median(times)


def pages(path):
    said = subprocess.run(["pdfinfo", path], check=True, capture_output=True, text=True).stdout
    return next(line.split()[1] for line in said.splitlines() if line.startswith("Pages"))


def main():
    program = sys.argv[1] if len(sys.argv) > 1 else "target/release/tempwright"
    with tempfile.TemporaryDirectory() as folder:
        at = lambda name: os.path.join(folder, name)
        sheet = [program, "sheet", PROTOCOL, *CASE, "-o"]
        subprocess.run([*sheet, at("a.html")], check=True, stdout=subprocess.DEVNULL)
        markup = Typst()
        markup.feed(open(at("a.html"), encoding="utf-8").read())
        open(at("a.typ"), "w", encoding="utf-8").write("".join(markup.out))
        python = [sys.executable, "-c"]
        runs = {
            "tempwright": [*sheet, at("tempwright.pdf")],
            "typst": [*python, f"import typst; typst.compile({at('a.typ')!r}, output={at('typst.pdf')!r})"],
            "weasyprint": [*python, f"import weasyprint; weasyprint.HTML({at('a.html')!r}).write_pdf({at('weasyprint.pdf')!r})"],
            "python alone": [*python, "pass"],
        }
        print("load", " ".join(f"{load:.1f}" for load in os.getloadavg()))
        first = None
        for name, command in runs.items():
            took = median(command)
            first = first or took
            path = at(name + ".pdf")
            count = pages(path) if os.path.exists(path) else "-"
            print(f"{name:14} {count:>3} pages {took:8.0f} ms {took / first:6.2f}")


main()
