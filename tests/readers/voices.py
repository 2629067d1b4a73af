"""Lets a speech recogniser hear every syllable of the shipped voices, and prints how many it takes for what they are.

The recogniser is PocketSphinx with the English model of its package. It chooses among the syllables of the voice, each
spelt in phones as it was given to the synthesiser; a syllable that sounds like another ("a" and "ah") counts as heard if
it is taken for one with the same phones. Then it chooses among the words of one counting system, as who counts along does:
nobody who counts numbers expects "tam". The Spanish voice is not heard: there is no model for it in the package.
"""

import argparse
import json
import sys
from math import gcd
from pathlib import Path

import numpy as np
import soundfile
from pocketsphinx import Decoder
from scipy import signal

ROOT = Path(__file__).resolve().parent.parent.parent
VOICES = ROOT / "assets" / "voices"
sys.path.insert(0, str(VOICES / "making"))
sys.dont_write_bytecode = True

from syllables import SYLLABLES  # noqa: E402

# The model's rate.
RATE = 16_000
# Silence before and after, without which a recogniser misses the first consonant.
SILENCE = 0.3
# Of 38 syllables synthesised directly, so many were heard; the shipped ones are to be heard as often.
WANTED = 34 / 38


# What is said in a bar of each system: the beats to 12 and what comes between, or the syllables of its table.
BEATS = "one two three four five six sev eight nine ten lev twelve"
SYSTEMS = {
    "numbers": f"{BEATS} e and a la li ta",
    "mchose-tibbs": f"{BEATS} ta te la li",
    "takadimi": "ta ka di mi da va ki ma ti",
    "gordon": "du ta de da di be ba bi",
    "kodaly": "ta ti ka a sh",
}


def phones(syllable) -> str:
    """As the model's dictionary writes them: AX is its unstressed AH."""
    return " ".join(phone.rstrip("012").upper().replace("AX", "AH") for phone in syllable.flat())


def decoder(syllables) -> tuple[Decoder, dict]:
    """One that knows these syllables and nothing else."""
    chosen = Decoder(loglevel="FATAL", samprate=RATE)
    names = {}
    for syllable in syllables:
        # Names that its grammar can hold.
        name = "zq" + syllable.name.replace("-", "x")
        chosen.add_word(name, phones(syllable), True)
        names[name] = syllable
    words = " | ".join(names)
    chosen.add_jsgf_string("syllables", f"#JSGF V1.0;\ngrammar syllables;\npublic <one> = {words};\n")
    chosen.activate_search("syllables")
    return chosen, names


def heard(chosen: Decoder, names: dict, file: Path):
    """The syllable that is heard in a file, or None."""
    frames, rate = soundfile.read(file, dtype="float64")
    factor = gcd(rate, RATE)
    frames = signal.resample_poly(frames, RATE // factor, rate // factor)
    silence = 1e-4 * np.random.default_rng(1).standard_normal(int(SILENCE * RATE))
    sound = np.concatenate([silence, frames, silence])
    chosen.start_utt()
    chosen.process_raw(np.clip(sound * 32767, -32768, 32767).astype("<i2").tobytes(), full_utt=True)
    chosen.end_utt()
    found = chosen.hyp()
    return names.get(found.hypstr) if found else None


def of_voice(manifest, voice, speed, syllables):
    """How many of these are heard as what they are, and what the others are taken for."""
    chosen, names = decoder(syllables)
    wrong = []
    for syllable in syllables:
        file = VOICES / voice / manifest["syllables"][syllable.name][speed]["file"]
        found = heard(chosen, names, file)
        if not found or phones(found) != phones(syllable):
            wrong.append(f"{syllable.name} as {found.name if found else 'nothing'}")
    return len(syllables) - len(wrong), wrong


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--show", action="store_true", help="print what was taken for something else")
    options = parser.parse_args()
    short = False
    named = {syllable.name: syllable for syllable in SYLLABLES}
    for voice in ("female", "male"):
        manifest = json.loads((VOICES / voice / "manifest.json").read_text(encoding="utf-8"))
        for speed in [speed["name"] for speed in manifest["speeds"]]:
            right, wrong = of_voice(manifest, voice, speed, SYLLABLES)
            share = right / len(SYLLABLES)
            print(f"{voice}, {speed}: {right} of {len(SYLLABLES)} heard as what they are ({share:.2f})")
            if options.show:
                print("  " + ", ".join(wrong))
            rights = manys = 0
            for system, words in SYSTEMS.items():
                syllables = [named[word] for word in words.split()]
                right, wrong = of_voice(manifest, voice, speed, syllables)
                print(f"  {system}: {right} of {len(syllables)}" + (f" ({', '.join(wrong)})" if options.show else ""))
                rights, manys = rights + right, manys + len(syllables)
            share = rights / manys
            print(f"  within each system {rights} of {manys} ({share:.2f})")
            short |= share < WANTED
    if short:
        print(f"at one speed or more fewer than {WANTED:.2f} within each system")
    return 0


if __name__ == "__main__":
    sys.exit(main())
