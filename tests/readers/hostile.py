#!/usr/bin/env python3
"""Files just under the limits, or that ask for more than they hold, and what the program needs for each.

    hostile.py PROGRAM [WORD...]      all, or those with one of these words in their names

PROGRAM is the built `countline`. Each file is read in a process of its own, which may answer with a rhythm or with an
error, within a second of processor time and 256 MB and without a signal; whatever does not is a failure. The build must be
an optimised one.
"""
import io
import itertools
import os
import struct
import sys
import tempfile
import zipfile

SECONDS, MEGABYTES = 1.0, 256

TEXT = 4 << 20
NOTE = "<note><unpitched/><duration>1</duration></note>"
DIVIDED = "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
CASES = {}


def case(name):
    def kept(function):
        CASES[name] = function
        return function
    return kept


# Rhythm text.

def text(body, head=""):
    return ["count"], ".rhythm", (head + "\n" + body).encode()[: TEXT]


@case("text: 119,999 bars")
def _():
    return text("| 1 2 3 4 " * 119_999 + "|")


@case("text: 799,984 notes")
def _():
    return text("|1e+a2e+a3e+a4e+a" * 49_999 + "|")


@case("text: a long bar again and again")
def _():
    return text("| [32/1] " + "1/64 " * 2048 + "| %" * 388 + "|")


@case("text: 10,000 bars added by repeats")
def _():
    return text("|: 1 2 3 4 " + "| 1 2 3 4 " * 199 + ":| 50 times" + "| 1 2 3 4" * 110_000 + "|")


def parts(bars):
    return text("".join(f"part: p{number}\n{bars}|\n" for number in range(64)))


@case("text: 64 parts of 1,874 bars")
def _():
    return parts("| 1 2 3 4 " * 1_874)


@case("text: 64 parts of 32,000 bars")
def _():
    return parts("|1" + "|%" * 31_999)


@case("text: 9,000 bars added by repeats in 64 parts")
def _():
    return parts("|: 1 2 3 4 " + "| 1 2 3 4 " * 182 + ":| 50 times" + "| 1 2 3 4" * 1_690)


@case("text: 9,900 passages that are repeated")
def _():
    return text("|: 1 2 3 4 :" * 9_900 + "| 1 2 3 4 " * 110_000 + "|")


@case("text: lines of marks under every bar")
def _():
    return text("| 1 2 3 4 |\nsticking: R L R L\naccents: > . > .\nstrokes: z . flam .\ndynamics: p<\n" * 45_000)


@case("text: bars alike but for their accents")
def _():
    bar = "| 1 e & a 2 e & a 3 e & a 4 e & a |\naccents: "
    chosen = (" ".join(".>"[number >> place & 1] for place in range(16)) for number in range(54_000))
    return text("".join(bar + accents + "\n" for accents in chosen))


@case("text: an error in every bar")
def _():
    return text("| 5 " * 119_000 + "|")


@case("text: a hint in every bar")
def _():
    return text("| 1 (2) & 3 " * 119_000 + "|")


for sign in "?([{|:&a_%#,1x\n":
    CASES[f"text: nothing but {sign!r}"] = lambda sign=sign: text(sign * TEXT)


# MusicXML.

def score(*parts, before=""):
    listed = "".join(f'<score-part id="P{number}"><part-name>{number}</part-name></score-part>' for number in range(len(parts)))
    body = "".join(f'<part id="P{number}">{bars}</part>' for number, bars in enumerate(parts))
    return f"{before}<score-partwise><part-list>{listed}</part-list>{body}</score-partwise>"


def xml(*parts, before=""):
    return ["import"], ".musicxml", score(*parts, before=before).encode()


def largest():
    """The most bytes a score may have, from the table of limits itself."""
    folder = os.path.dirname(os.path.abspath(__file__))
    with open(os.path.join(folder, "../../crates/exchange/src/limits.rs")) as table:
        line = next(line for line in itertools.dropwhile(lambda line: "XML_BYTES" not in line, table) if "most" in line)
    return eval(line.split("most:")[1].split("}")[0].strip(" ,"))


def filled(one, around=600, most=None):
    """As many of these as a file may hold."""
    many = (largest() - around) // len(one)
    return one * (many if most is None else min(many, most))


def bars(inside):
    return f'<measure number="1">{DIVIDED}{inside}</measure>'


@case("xml: 199,000 notes")
def _():
    return xml(bars(NOTE * 4) + ('<measure number="2">' + NOTE * 4 + "</measure>") * 49_700)


@case("xml: 199,000 notes as long as they get")
def _():
    long = (largest() - 20_000_000) // 199_000 - len(NOTE)
    note = NOTE.replace("<duration>", " " * long + "<duration>")
    return xml(filled('<measure number="1">' + note * 4 + "</measure>", 1_000, 49_700))


@case("xml: chords")
def _():
    chord = NOTE.replace("<unpitched", "<chord/><unpitched")
    return xml(filled(f'<measure number="1">{NOTE * 4}{chord}</measure>', 1_000, 190_000))


@case("xml: empty bars in 500 parts")
def _():
    return xml(*[filled("<measure/>", 60_000) [: 10 * (largest() // 5_100)]] * 500)


@case("xml: empty bars in 64 parts")
def _():
    return xml(*["<measure/>" * 1_874] * 64)


@case("xml: two notes a bar in 60 parts")
def _():
    return xml(*[("<measure>" + NOTE * 2 + "</measure>") * 1_660] * 60)


@case("xml: words over one bar")
def _():
    return xml(bars(filled("<direction><direction-type><words>rit.</words></direction-type></direction>", 1_000)))


@case("xml: tempo marks in one bar")
def _():
    return xml(bars(filled('<sound tempo="90"/>', 1_000)))


@case("xml: brackets of tuplets")
def _():
    tuplet = NOTE.replace("</note>", "<notations>" + '<tuplet type="start"/>' * 8 + "</notations></note>")
    return xml(bars(filled(tuplet, 1_000, 190_000)))


@case("xml: tuplets in bars")
def _():
    third = "<note><unpitched/><duration>1</duration><type>eighth</type><time-modification><actual-notes>3</actual-notes>" \
        "<normal-notes>2</normal-notes></time-modification></note>"
    head = "<attributes><divisions>3</divisions><time><beats>1</beats><beat-type>4</beat-type></time></attributes>"
    return xml(f"<measure>{head}{third * 3}</measure>" + filled(f"<measure>{third * 3}</measure>", 1_000, 190_000))


@case("xml: grace notes")
def _():
    return xml(bars(filled("<note><grace/><unpitched/></note>", 1_000, 190_000) + NOTE))


@case("xml: endings and repeats")
def _():
    passes = ",".join(str(number) for number in range(1, 51))
    bar = f'<measure><barline><ending number="{passes}" type="start"/><repeat direction="forward"/></barline></measure>'
    return xml(filled(bar, 1_000, 119_000))


@case("xml: endings without a number")
def _():
    return xml(filled('<measure><barline><ending type="start"/></barline></measure>', 1_000, 119_000))


@case("xml: 64 voices on two staves")
def _():
    voices = "".join(
        NOTE.replace("</note>", f"<voice>{voice}</voice><staff>{1 + voice % 2}</staff></note>") + "<backup><duration>1</duration></backup>"
        for voice in range(64))
    return xml(bars(voices) + filled(f"<measure>{voices}</measure>", 20_000, 3_000))


@case("xml: one long text")
def _():
    return xml(bars(NOTE), before="<!--" + "x" * (largest() - 1_000) + "-->")


@case("xml: one long attribute")
def _():
    return ["import"], ".xml", ('<score-partwise a="' + "&amp;" * ((largest() - 100) // 5) + '"/>').encode()


@case("xml: one long name of a part")
def _():
    name = "<score-partwise><part-list><score-part id='P'><part-name>" + "&#65;" * ((largest() - 1_000) // 5)
    return ["import"], ".xml", (name + "</part-name></score-part></part-list></score-partwise>").encode()


@case("xml: attributes")
def _():
    one = "<x " + " ".join(f'a{number}="1"' for number in range(2_000)) + "/>"
    return xml(bars(filled(one, 1_000)))


@case("xml: UTF-16 of three bytes a character")
def _():
    return ["import"], ".xml", ("\ufeff<score-partwise><!--" + "\u4e00" * (largest() // 2 - 100) + "--></score-partwise>").encode("utf-16-le")


@case("xml: ISO-8859-1, all of it above ASCII")
def _():
    return ["import"], ".xml", b"<score-partwise><!--" + b"\xe9" * (largest() - 100) + b"--></score-partwise>"


@case("xml: elements and nothing in them")
def _():
    return xml(bars(filled("<x/>", 1_000, 5_900_000)))


def packed(*files, level=9):
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED, compresslevel=level) as archive:
        for name, inside in files:
            archive.writestr(name, inside)
    return ["import"], ".mxl", held.getvalue()


@case("mxl: a bomb of blanks")
def _():
    return packed(("a.xml", b"<score-partwise>" + b" " * (largest() - 100) + b"</score-partwise>"))


@case("mxl: a bomb past the limit")
def _():
    return packed(("a.xml", b"<score-partwise>" + b" " * (4 * largest())))


@case("mxl: 2,000 files")
def _():
    return packed(*((f"{number}.txt", b"") for number in range(1_999)), ("a.xml", score(bars(NOTE))))


# MIDI files.

def chunk(mark, inside):
    return mark + struct.pack(">I", len(inside)) + inside


def midi(*tracks):
    header = chunk(b"MThd", struct.pack(">HHH", 1, min(len(tracks), 65_535), 480))
    return ["write", "--from-take"], ".mid", header + b"".join(chunk(b"MTrk", track) for track in tracks)


ENDS = b"\x00\xff\x2f\x00"


@case("midi: 19,900 strokes, a sixteenth each")
def _():
    return midi(b"\x00\x99\x26\x40\x78\x26\x00" + b"\x00\x26\x40\x78\x26\x00" * 19_899 + ENDS)


@case("midi: 19,900 strokes, an eighth each")
def _():
    return midi(b"\x00\x99\x26\x40" + b"\x81\x70\x26\x40" * 19_899 + ENDS)


@case("midi: 499,000 strokes at once")
def _():
    return midi(b"\x00\x99\x26\x40" + b"\x00\x26\x40" * 498_999 + ENDS)


@case("midi: 16 MB of controllers")
def _():
    return midi(b"\x00\xb0\x07\x40" + b"\x00\x07\x40" * 5_592_000 + ENDS)


@case("midi: changes of tempo")
def _():
    return midi(b"\x01\xff\x51\x03\x07\xa1\x20\x01\xff\x51\x03\x07\xa1\x21" * 1_190_000 + b"\x00\x99\x26\x40" + ENDS)


@case("midi: changes of meter")
def _():
    return midi(b"\x83\x60\xff\x58\x04\x02\x02\x18\x08\x83\x60\xff\x58\x04\x03\x02\x18\x08" * 900_000 + b"\x00\x99\x26\x40" * 4 + ENDS)


@case("midi: 65,000 tracks")
def _():
    return midi(*[b"\x00\x99\x26\x40\x10\x26\x00" + ENDS] * 65_000)


def written(made, folder):
    """The call and the file, which is made in a process of its own: a child's peak of memory counts its parent's."""
    come, go = os.pipe()
    if os.fork() == 0:
        call, suffix, content = made()
        path = os.path.join(folder, "hostile" + suffix)
        with open(path, "wb") as file:
            file.write(content)
        os.write(go, "\0".join([*call, path]).encode())
        os._exit(0)
    os.wait()
    *call, path = os.read(come, 4_000).decode().split("\0")
    os.close(come)
    os.close(go)
    return call, path


def needed(call):
    """What it needs; its time the least of three runs where the first was too long, for others share the machine."""
    runs = [needed_once(call)]
    while len(runs) < 3 and min(run[1] for run in runs) > SECONDS:
        runs.append(needed_once(call))
    return min(runs, key=lambda run: run[1])


def needed_once(call):
    with open(os.devnull, "wb") as nothing, tempfile.TemporaryFile() as said:
        pid = os.posix_spawn(call[0], call, os.environ, file_actions=[
            (os.POSIX_SPAWN_DUP2, nothing.fileno(), 1), (os.POSIX_SPAWN_DUP2, said.fileno(), 2)])
        _, status, usage = os.wait4(pid, 0)
        seconds = usage.ru_utime + usage.ru_stime
        said.seek(0)
        message = said.read(2_000).decode(errors="replace").strip().split("\n")
    return os.waitstatus_to_exitcode(status), seconds, usage.ru_maxrss / 1024, message[0][:90]


def main():
    program, words = sys.argv[1], sys.argv[2:]
    failed = 0
    print(f"{'file':45} {'MB':>6} {'s':>6} {'MB used':>8}  answer")
    for name, made in CASES.items():
        if words and not any(word in name for word in words):
            continue
        with tempfile.TemporaryDirectory() as folder:
            call, path = written(made, folder)
            size = os.path.getsize(path)
            code, seconds, megabytes, message = needed([program, *call, path])
        is_wrong = seconds > SECONDS or megabytes > MEGABYTES or code not in (0, 1, 2)
        failed += is_wrong
        print(f"{name:45} {size / 1e6:6.1f} {seconds:6.2f} {megabytes:8.0f}  "
              f"{'FAULT ' if is_wrong else ''}{code} {message}")
        sys.stdout.flush()
    print(f"{failed} faults")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
