"""Holds PDF files against what can be told of PDF/UA-1 (ISO 14289-1) from the file alone, with the PyPI library pdfua;
prints how many rules of the standard it knows as JSON, and says what is wrong and fails.

    pdf_ua.py FILE...
"""

import json
import sys

import pdfua

wrong = False
for file in sys.argv[1:]:
    for finding in pdfua.validate(file).findings:
        wrong = True
        print(f"{file}: {finding.severity.name} {finding.rule_id}: {finding.message}")
if wrong:
    sys.exit(1)
print(json.dumps({"rules": pdfua.coverage().covered}))
