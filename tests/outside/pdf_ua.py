"""What `pdfua` finds in the PDFs named as arguments: a line a finding."""

import sys

import pdfua

for path in sys.argv[1:]:
    for finding in pdfua.validate(path).findings:
        print(path, finding.rule_id, finding.message)
