"""The title in the XMP of each PDF, read by an XML reader: paths in, one JSON text a line out."""

import json
import subprocess
import sys
import xml.etree.ElementTree as tree

DC = "{http://purl.org/dc/elements/1.1/}"
RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
for path in sys.argv[1:]:
    packet = subprocess.run(["pdfinfo", "-meta", path], check=True, capture_output=True).stdout
    titles = tree.fromstring(packet).findall(f".//{DC}title/{RDF}Alt/{RDF}li")
    assert len(titles) == 1, titles
    print(json.dumps(titles[0].text, ensure_ascii=False))
