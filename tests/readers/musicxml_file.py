"""What stands in a MusicXML file, element by element, for the rules of `musicxml.py` to look at.

No reader of music: it knows where a note stands by adding up durations, and which elements stand in it. Times are
fractions of a whole note.
"""
import collections
import re
import xml.etree.ElementTree as ElementTree
import zipfile
from fractions import Fraction

VALUES = {"maxima": Fraction(8), "long": Fraction(4), "breve": Fraction(2), "whole": Fraction(1), "half": Fraction(1, 2),
          "quarter": Fraction(1, 4), "eighth": Fraction(1, 8)}
VALUES |= {name: Fraction(1, int(re.match(r"\d+", name)[0]))
           for name in ("16th", "32nd", "64th", "128th", "256th", "512th", "1024th")}

Note = collections.namedtuple(
    "Note", "at end voice staff grace cue chord rest whole_bar stop tremolo ratio value divisions")


class Bar:
    """One bar of one part."""

    def __init__(self, element):
        self.number = element.get("number", "")
        # "yes", "no", or nothing said.
        self.implicit = element.get("implicit")
        self.notes = []
        # How far notes and rests reach, and what `forward` passes over.
        self.reach = Fraction(0)
        # Whether a passage is repeated from its end.
        self.goes_back = any(sign.get("direction") == "backward" for sign in element.iter("repeat"))

    def sounding(self):
        return [note for note in self.notes if not (note.rest or note.grace or note.cue)]


def root(path):
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as archive:
            container = ElementTree.fromstring(archive.read("META-INF/container.xml"))
            name = next(e.get("full-path") for e in container.iter() if e.tag.endswith("rootfile"))
            return ElementTree.fromstring(archive.read(name))
    return ElementTree.parse(path).getroot()


def parts(path):
    """The bars of every part, in the order of the file."""
    top = root(path)
    if top.tag == "score-timewise":
        measures = collections.OrderedDict()
        for measure in top.findall("measure"):
            for part in measure.findall("part"):
                inside = ElementTree.Element("measure", measure.attrib)
                inside.extend(part)
                measures.setdefault(part.get("id"), []).append(inside)
        return [read(part) for part in measures.values()]
    return [read(part.findall("measure")) for part in top.findall("part")]


def read(measures):
    bars, divisions = [], Fraction(1)
    for measure in measures:
        bar = Bar(measure)
        at, first = Fraction(0), Fraction(0)
        for element in measure:
            told = element.findtext("duration")
            lasts = Fraction(told.strip()) / divisions / 4 if told and told.strip() else Fraction(0)
            if element.tag == "attributes":
                changed = element.findtext("divisions")
                divisions = Fraction(changed.strip()) if changed else divisions
            elif element.tag == "backup":
                at = max(at - lasts, Fraction(0))
            elif element.tag == "forward":
                at += lasts
            elif element.tag == "note":
                note = one(element, at, first, lasts, divisions)
                bar.notes.append(note)
                if not (note.chord or note.grace):
                    first, at = at, at + lasts
            bar.reach = max(bar.reach, at)
        bars.append(bar)
    return bars


def one(element, at, first, lasts, divisions):
    has = lambda tag: element.find(tag) is not None
    ratio = Fraction(1)
    modified = element.find("time-modification")
    if modified is not None:
        ratio = Fraction(int(modified.findtext("actual-notes")), int(modified.findtext("normal-notes")))
    value = VALUES.get((element.findtext("type") or "").strip())
    if value is not None:
        dots = len(element.findall("dot"))
        value *= 2 - Fraction(1, 2 ** dots)
    chord, rest = has("chord"), element.find("rest")
    begins = first if chord and not has("grace") else at
    return Note(
        at=begins,
        end=begins + (0 if has("grace") else lasts),
        voice=element.findtext("voice") or "1",
        staff=element.findtext("staff") or "1",
        grace=has("grace"),
        cue=has("cue"),
        chord=chord,
        rest=rest is not None,
        whole_bar=rest is not None and rest.get("measure") == "yes",
        stop=any(tie.get("type") == "stop" for tie in element.findall("tie")),
        tremolo=any(t.get("type") in ("start", "stop") for t in element.iter("tremolo")),
        ratio=ratio,
        value=value,
        divisions=divisions,
    )


def longest_bars(parts):
    """How far the notes and rests of each bar reach in the part in which they reach farthest, rests of whole bars apart."""
    longest = []
    for index in range(max(len(part) for part in parts)):
        notes = [note for part in parts if index < len(part) for note in part[index].notes if not note.whole_bar]
        longest.append(max((note.end for note in notes), default=Fraction(0)))
    return longest
