#!/usr/bin/env python3
"""Reads the same MusicXML files with our reader and with music21, in one run, and prints how much faster ours is.

Ours makes a rhythm of the bytes: places, beats, ties, tuplets, repeats played out. The reference is timed twice: building
its score, and telling those same facts of it, as `musicxml.py` does. The second is the comparison of like with like.

    musicxml_speed.py --import-speed PROGRAM [FILE...]      by default a few files that music21 ships

PROGRAM is the example `import_speed` of the crate `exchange`, built with --release. Files are unpacked first, so that
both read the same bytes of text.
"""
import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
import warnings
import zipfile

warnings.simplefilter("ignore")

DEFAULT = ["beethoven/opus18no1/movement1.mxl", "joplin/maple_leaf_rag.mxl", "mozart/k80/movement3.mxl", "bach/bwv384.mxl",
           "trecento/PMFC_12_24-Benedicamus.xml"]


def unpacked(path, folder):
    if not zipfile.is_zipfile(path):
        return path
    with zipfile.ZipFile(path) as archive:
        name = next(n for n in archive.namelist() if not n.startswith("META-INF") and n.endswith(("xml",)))
        target = os.path.join(folder, os.path.basename(path) + ".musicxml")
        with open(target, "wb") as out:
            out.write(archive.read(name))
    return target


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("files", nargs="*")
    parser.add_argument("--import-speed", required=True, metavar="PROGRAM")
    arguments = parser.parse_args()
    import music21
    from music21 import converter
    import musicxml
    root = os.path.join(os.path.dirname(music21.__file__), "corpus")
    files = arguments.files or [os.path.join(root, name) for name in DEFAULT]
    with tempfile.TemporaryDirectory() as folder:
        files = [unpacked(path, folder) for path in files]
        size = ours = scores = theirs = 0.0
        for path in files:
            run = subprocess.run([arguments.import_speed, "5", path], capture_output=True, text=True, check=True)
            told = json.loads(run.stdout)
            begun = time.process_time()
            converter.parse(path, forceSource=True)
            score = time.process_time() - begun
            begun = time.process_time()
            musicxml.reference(path)
            facts = time.process_time() - begun
            size, ours = size + told["bytes"], ours + told["seconds"]
            scores, theirs = scores + score, theirs + facts
            print(f"{os.path.basename(path)}: {told['bytes']} bytes, {told['bars']} bars; ours {told['seconds'] * 1000:.2f} ms, "
                  f"music21 {score * 1000:.0f} ms for the score, {facts * 1000:.0f} ms for the same facts: "
                  f"{facts / told['seconds']:.0f} times faster")
        print(f"together: {size / ours / 1e6:.0f} MB/s, {theirs / ours:.0f} times faster than music21 tells the same facts, "
              f"{scores / ours:.0f} times faster than it builds its score")
    return 0 if theirs / ours >= 500 else 1


if __name__ == "__main__":
    sys.exit(main())
