"""The two synthesisers: each says every syllable at one speed and tells where its phones lie."""

import os
import subprocess
import tempfile

import sound
from syllables import Syllable

# A phone and the seconds between which it lies in the recording.
Phone = tuple[str, float, float]


def female(syllables: list[Syllable], speed: float) -> dict[str, tuple]:
    """Festival's voice cmu_us_slt_arctic_hts; `speed` is that of its engine, 1 is its own.

    Its lexicon is given a word of ours for every syllable, so that nothing but our phones is said.
    """
    with tempfile.TemporaryDirectory() as folder:
        lines = [
            "(voice_cmu_us_slt_arctic_hts)",
            f'(set! hts_engine_params (append cmu_us_slt_arctic_hts::hts_engine_params (list (list "-r" {speed:g}))))',
        ]
        for number, syllable in enumerate(syllables):
            word = "zq" + chr(ord("a") + number // 26) + chr(ord("a") + number % 26)
            entry = " ".join(festival_syllable(part) for part in syllable.divided())
            lines += [
                f"(lex.add.entry '(\"{word}\" nn ({entry})))",
                f'(set! said (utt.synth (Utterance Text "{word}")))',
                f"(utt.save.wave said \"{folder}/{syllable.name}.wav\" 'riff)",
                f'(format t "PHONES {syllable.name}")',
                '(mapcar (lambda (phone) (format t " %s:%f" (item.name phone) (item.feat phone "end")))'
                " (utt.relation.items said 'Segment))",
                '(format t "\\n")',
            ]
        script = os.path.join(folder, "say.scm")
        with open(script, "w") as file:
            file.write("\n".join(lines))
        done = subprocess.run(["festival", "-b", script], capture_output=True, text=True, check=True)
        ends = {}
        for line in done.stdout.splitlines():
            if line.startswith("PHONES "):
                name, *phones = line.split()[1:]
                ends[name] = phones
        return {s.name: (sound.read(f"{folder}/{s.name}.wav"), phones_between(ends[s.name])) for s in syllables}


def festival_syllable(phones: list[str]) -> str:
    """`["t", "uw1"]` is `((t uw) 1)` in festival's lexicon; without a vowel it is stressed."""
    stress = next((phone[-1] for phone in phones if phone[-1].isdigit()), "1")
    return f"(({' '.join(phone.rstrip('01') for phone in phones)}) {stress})"


def male(syllables: list[Syllable], stretch: float) -> dict[str, tuple]:
    """Flite's voice rms; `stretch` multiplies every length, 1 is its own."""
    said = {}
    with tempfile.TemporaryDirectory() as folder:
        for syllable in syllables:
            file = os.path.join(folder, f"{syllable.name}.wav")
            # Flite has no stress mark for its one unstressed vowel.
            phones = " ".join(phone.rstrip("0") for phone in syllable.flat())
            call = ["flite", "-voice", "rms", "--setf", f"duration_stretch={stretch:g}", "-psdur"]
            call += ["-p", f"pau {phones} pau", "-o", file]
            done = subprocess.run(call, capture_output=True, text=True, check=True)
            said[syllable.name] = (sound.read(file), phones_between(done.stdout.split()))
    return said


def phones_between(ends: list[str]) -> list[Phone]:
    """`["pau:0.1", "t:0.2"]`, each phone with its end, made phones with both ends; pauses left out."""
    phones, begin = [], 0.0
    for item in ends:
        name, end = item.split(":")
        if name != "pau":
            phones.append((name, begin, float(end)))
        begin = float(end)
    return phones
