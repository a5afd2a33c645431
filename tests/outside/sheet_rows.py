"""Reads a run sheet in its three forms, each by its own means, and prints its tables.

Arguments: the HTML page, the Markdown text, the PDF's structure as `pdfinfo -struct-text` says it.
Prints a line a row: the form, then the cells without spaces and without the lines to write on,
parted by `|`; and one line a form with all its words.
"""

import re
import sys
from html.parser import HTMLParser


def packed(text):
    return re.sub(r"[\s_\u00a0]+", "", text)


def say(form, cells):
    print(form + "\t" + "|".join(packed(cell) for cell in cells))


class Page(HTMLParser):
    """The tables of the page, without what only a screen reader says."""

    VOID = {"meta", "link", "br", "col", "path", "line", "rect", "polygon", "hr", "img"}

    def __init__(self):
        super().__init__()
        self.open = []
        self.row = None
        self.cell = None
        self.words = []

    def handle_starttag(self, tag, attributes):
        attributes = dict(attributes)
        if tag in self.VOID:
            return
        hidden = attributes.get("class") == "unseen" or tag in ("style", "title", "svg")
        self.open.append((tag, hidden))
        if tag == "tr":
            self.row = []
        elif tag in ("td", "th"):
            self.cell = []

    def handle_endtag(self, tag):
        while self.open and self.open.pop()[0] != tag:
            pass
        if tag in ("td", "th"):
            self.row.append("".join(self.cell))
            self.cell = None
        elif tag == "tr":
            say("html", self.row)

    def handle_data(self, data):
        if any(hidden for _, hidden in self.open):
            return
        self.words.append(data)
        if self.cell is not None:
            self.cell.append(data)


def html(path):
    page = Page()
    page.feed(open(path, encoding="utf-8").read())
    print("html words\t" + packed("".join(page.words)))


def plain(markdown):
    """Markdown of one line as text: emphasis, escapes and forced breaks are gone."""
    text = markdown.replace("<br>", " ")
    text = re.sub(r"(?<!\\)[*`]", "", text)
    return re.sub(r"\\(.)", r"\1", text)


def markdown(path):
    words = []
    for line in open(path, encoding="utf-8"):
        line = line.rstrip("\n")
        bare = line.lstrip("> ")
        if bare.startswith("|"):
            cells = [plain(cell) for cell in re.split(r"(?<!\\)\|", bare)[1:-1]]
            if all(cell.strip() == "---" for cell in cells):
                continue
            words.extend(cells)
            if any(cell.strip() for cell in cells):
                say("markdown", cells)
        else:
            words.append(plain(re.sub(r"^\s*(#+|-|\d+\.) ", "", bare)))
    print("markdown words\t" + packed("".join(words)))


def structure(path):
    """Rows and cells by the indentation of the tree; marks of lists and drawings are left out."""
    row, cell, row_depth, skipped = None, None, 0, None
    words = []
    for line in open(path, encoding="utf-8"):
        depth = len(line) - len(line.lstrip(" "))
        text = line.strip()
        if skipped is not None and depth > skipped:
            continue
        skipped = None
        if row is not None and depth <= row_depth:
            say("pdf", row)
            row = None
        name = text.split(" ")[0].rstrip(":")
        if text.startswith('"'):
            words.append(text[1:-1])
            if row:
                row[-1] += text[1:-1]
        elif name in ("Lbl", "Figure") and (name == "Figure" or row is not None):
            skipped = depth
        elif name == "TR":
            row, row_depth = [], depth
        elif name in ("TD", "TH"):
            row.append("")
    if row is not None:
        say("pdf", row)
    print("pdf words\t" + packed("".join(words)))


html(sys.argv[1])
markdown(sys.argv[2])
structure(sys.argv[3])
