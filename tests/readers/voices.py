"""Lets a speech recogniser hear every syllable of the shipped voices, and prints how many it takes for what they are.

The recogniser is PocketSphinx with the English model of its package. It chooses among the syllables of the voice, each
spelt in phones as it was given to the synthesiser; a syllable that sounds like another ("a" and "ah") counts as heard if
it is taken for one with the same phones. Then it chooses among the words of one counting system, as who counts along does:
nobody who counts numbers expects "tam". The Spanish voice is not heard: there is no model for it in the package.

With --direct it hears beside them what the synthesisers say by themselves, before anything is trimmed, spliced or levelled:
at their own speed, and at that of each speed of the voice. What is shipped slow and at normal speed is to be heard as often
as a synthesiser at its own speed.
"""

import argparse
import json
import sys
import tempfile
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

import sound  # noqa: E402
from pack import VOICES as VOICES_SAID  # noqa: E402
from syllables import SYLLABLES  # noqa: E402

# The model's rate.
RATE = 16_000
# Silence before and after, without which a recogniser misses the first consonant.
SILENCE = 0.3
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


def hear(title: str, files: dict, show: bool) -> tuple[int, int]:
    """Prints how many are heard as what they are, among all and within the systems, and says it."""
    named = {syllable.name: syllable for syllable in SYLLABLES}
    of_all, wrong = heard_right(files, SYLLABLES)
    print(f"{title}: {of_all} of {len(SYLLABLES)} heard as what they are ({of_all / len(SYLLABLES):.2f})")
    if show:
        print("  " + ", ".join(wrong))
    within = many = 0
    for system, words in SYSTEMS.items():
        syllables = [named[word] for word in words.split()]
        right, wrong = heard_right(files, syllables)
        print(f"  {system}: {right} of {len(syllables)}" + (f" ({', '.join(wrong)})" if show else ""))
        within, many = within + right, many + len(syllables)
    print(f"  within each system {within} of {many} ({within / many:.2f})", flush=True)
    return of_all, within


def heard_right(files: dict, syllables: list) -> tuple[int, list[str]]:
    """How many of these are heard as what they are, and what the others are taken for."""
    chosen, names = decoder(syllables)
    wrong = []
    for syllable in syllables:
        found = heard(chosen, names, files[syllable.name])
        if not found or phones(found) != phones(syllable):
            wrong.append(f"{syllable.name} as {found.name if found else 'nothing'}")
    return len(syllables) - len(wrong), wrong


def shipped(voice: str) -> dict:
    """The files of a voice, by speed and syllable."""
    manifest = json.loads((VOICES / voice / "manifest.json").read_text(encoding="utf-8"))
    recordings = manifest["syllables"]
    return {
        speed["name"]: {name: VOICES / voice / of[speed["name"]]["file"] for name, of in recordings.items()}
        for speed in manifest["speeds"]
    }


def said_directly(say, setting: float, into: Path) -> dict:
    """What a synthesiser says by itself, by syllable."""
    files = {}
    for name, (frames, _) in say(SYLLABLES, setting).items():
        files[name] = into / f"{name}.wav"
        soundfile.write(files[name], frames, sound.RATE, subtype="FLOAT")
    return files


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--show", action="store_true", help="print what was taken for something else")
    parser.add_argument("--direct", action="store_true", help="hear the synthesisers themselves beside the voices")
    options = parser.parse_args()
    fewer = []
    for voice in VOICES_SAID:
        found = {
            speed: hear(f"{voice.name}, {speed}", files, options.show)
            for speed, files in shipped(voice.name).items()
        }
        if not options.direct:
            continue
        settings = {"its own speed": 1.0} | voice.speeds
        for speed, setting in settings.items():
            with tempfile.TemporaryDirectory() as folder:
                files = said_directly(voice.say, setting, Path(folder))
                directly = hear(f"{voice.name}'s synthesiser, {speed}", files, options.show)
            if speed == "its own speed":
                wanted = directly
        for speed in ("slow", "normal"):
            if any(ours < direct for ours, direct in zip(found[speed], wanted)):
                fewer.append(f"{voice.name}, {speed}")
    for of in fewer:
        print(f"{of}: heard less often than the synthesiser itself", file=sys.stderr)
    return 1 if fewer else 0


if __name__ == "__main__":
    sys.exit(main())
