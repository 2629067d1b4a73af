"""Lets a speech recogniser hear every syllable of the shipped voices, and prints how many it takes for what they are.

The recogniser is PocketSphinx with the English model of its package. It chooses among the syllables of the voice, each
spelt in phones as it was given to the synthesiser; a syllable that sounds like another ("a" and "ah") counts as heard if
it is taken for one with the same phones. The Spanish voice is not heard: there is no model for it in the package.
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


def phones(syllable) -> str:
    """As the model's dictionary writes them: AX is its unstressed AH."""
    return " ".join(phone.rstrip("012").upper().replace("AX", "AH") for phone in syllable.flat())


def decoder() -> tuple[Decoder, dict]:
    """One that knows our syllables and nothing else."""
    chosen = Decoder(loglevel="FATAL", samprate=RATE)
    names = {}
    for syllable in SYLLABLES:
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


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--show", action="store_true", help="print what was taken for something else")
    options = parser.parse_args()
    short = False
    for voice in ("female", "male"):
        manifest = json.loads((VOICES / voice / "manifest.json").read_text(encoding="utf-8"))
        for speed in [speed["name"] for speed in manifest["speeds"]]:
            chosen, names = decoder()
            right, wrong = 0, []
            for syllable in SYLLABLES:
                file = VOICES / voice / manifest["syllables"][syllable.name][speed]["file"]
                found = heard(chosen, names, file)
                if found and phones(found) == phones(syllable):
                    right += 1
                else:
                    wrong.append(f"{syllable.name} as {found.name if found else 'nothing'}")
            share = right / len(SYLLABLES)
            print(f"{voice}, {speed}: {right} of {len(SYLLABLES)} heard as what they are ({share:.2f})")
            if options.show:
                print("  " + ", ".join(wrong))
            short |= share < WANTED
    if short:
        print(f"at one speed or more fewer than {WANTED:.2f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
