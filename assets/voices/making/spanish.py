"""Spanish numbers and "y", spoken by a person: the telephone prompts of Debian's asterisk-core-sounds-es-g722.

They are decoded into a folder of WAV files named by their syllables; `countline voice import` makes the voice of them, as
it does of anybody's recordings. Its WAV files are then packed as FLAC.
"""

import json
import os
import shutil
import subprocess
import sys
import tempfile
import wave
from pathlib import Path

import languages
from G722 import G722

PROMPTS = Path("/usr/share/asterisk/sounds/es_MX_f_Allison/digits")
NOTICE = Path("/usr/share/doc/asterisk-core-sounds-es-g722/copyright")
DESCRIPTION = (
    "A woman's voice, Spanish of Mexico, numbers and y: Allison Smith's prompts for Asterisk, changed (CC BY-SA 3.0)."
)

# A few prompts are not called by their number; "veinti" saves nine.
OTHERS = {"y": "and", "veinti": "20-and", "ciento": "100-and", "cien": "hundred", "doscientos": "200"}

# Centres set by hand from the waveform, in ms, where the estimators miss what is seen there. An r or a glide before the
# vowel brings the centre before the vowel's beginning: by 40 and by 28 ms in the English voices, whose vowels are known.
BY_HAND = {
    # The vowel stands at its full level from 5 ms on, as in "ocho", which is estimated so; it only grows more open.
    "uno": 14,
    "once": 14,
    # A voiced splinter, as loud as the vowel, sounds from 10 to 50 ms between t and r; the vowel begins at 68, 60, 74.
    "tres": 40,
    "trece": 36,
    "treinta": 43,
    # The voiced stop lasts until 114 ms, and the vowel is at its full level at once, as in "dos".
    "doce": 116,
    # The vowel is at its full level from 28 ms on.
    "quince": 32,
    # A glide before the vowel, from 18 to 75, 142 to 200 and 482 to 540 ms.
    "cuatro": 47,
    "siete": 172,
    "diecisiete": 512,
}


def prompts() -> dict[str, str]:
    """For each syllable the prompt it is said in."""
    words = {name: word for word, name in languages.tables()[1]["words"].items()}
    return {name: word for name, word in words.items() if word.isdigit() and not 20 < int(word) < 30} | OTHERS


def decode(file: Path, into: Path) -> None:
    """A G.722 file, 16 kHz at 64 kbit/s, as WAV."""
    frames = G722(16_000, 64_000).decode(file.read_bytes())
    with wave.open(str(into), "wb") as wav:
        wav.setnchannels(1)
        wav.setsampwidth(2)
        wav.setframerate(16_000)
        wav.writeframes(b"".join(int(frame).to_bytes(2, "little", signed=True) for frame in frames))


def make(into: Path, program: list[str]) -> list[str]:
    """Writes the pack into the folder `spanish` and says which files it wrote."""
    with tempfile.TemporaryDirectory() as folder:
        spoken, pack = Path(folder) / "spoken" / "normal", Path(folder) / "spanish"
        spoken.mkdir(parents=True)
        for name, prompt in prompts().items():
            decode(PROMPTS / f"{prompt}.g722", spoken / f"{name}.wav")
        call = [*program, "voice", "import", str(spoken.parent), "--language", "es", "-o", f"{pack}/"]
        subprocess.run(call, check=True, stdout=subprocess.DEVNULL)
        return packed(pack, into / "spanish")


def packed(pack: Path, into: Path) -> list[str]:
    """The same pack with FLAC files, its description, and the notice that goes with it."""
    shutil.rmtree(into, ignore_errors=True)
    manifest = json.loads((pack / "manifest.json").read_text(encoding="utf-8"))
    made = []
    for syllable, recordings in manifest["syllables"].items():
        for recording in recordings.values():
            recording["override_ms"] = BY_HAND.get(syllable)
            file = Path(recording["file"])
            recording["file"] = str(file.with_suffix(".flac"))
            (into / file).parent.mkdir(parents=True, exist_ok=True)
            small = ["--best", "--exhaustive-model-search", "--no-padding", "--no-seektable"]
            call = ["flac", "--silent", *small, "-o", str(into / recording["file"]), str(pack / file)]
            subprocess.run(call, check=True)
            made.append(f"spanish/{recording['file']}")
    manifest["name"], manifest["description"] = "spanish", DESCRIPTION
    text = json.dumps(manifest, indent=1, ensure_ascii=False)
    (into / "manifest.json").write_text(text + "\n", encoding="utf-8")
    shutil.copyfile(NOTICE, into / "COPYRIGHT-asterisk-core-sounds-es")
    return [*made, "spanish/manifest.json"]


if __name__ == "__main__":
    make(Path(sys.argv[1]), os.environ.get("COUNTLINE", "countline").split())
