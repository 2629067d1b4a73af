"""Makes the voice packs: says every syllable, prepares it, finds its perceptual centre, writes the manifest."""

import argparse
import filecmp
import json
import os
import statistics
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import centre
import languages
import sound
import spanish
import speech
from syllables import JOINED, SYLLABLES, VOWELS, WEAK_FORMS, WORDS, Syllable

HERE = Path(__file__).resolve().parent.parent

# Loudness of the loudest 100 ms, and the highest peak. Soft syllables are 5 dB softer.
LOUDNESS_LUFS = -19.0
SOFT_LOUDNESS_LUFS = -24.0
PEAK_DBFS = -3.0

# A sound that lasts longer before its centre is spliced: it would begin too long before the beat.
MOST_BEFORE_CENTRE = {"slow": None, "normal": 0.100, "quick": 0.065}
# Less than this is not worth a joint.
LEAST_SPLICE = 0.008


@dataclass(frozen=True)
class Voice:
    """One pack: how it is said, and at which speeds, the slowest first."""

    name: str
    description: str
    say: object
    speeds: dict


VOICES = [
    Voice(
        "female",
        "A woman's voice: Festival's cmu_us_slt_arctic_hts (Carnegie Mellon University; CSTR, Edinburgh).",
        speech.female,
        {"slow": 1.0, "normal": 1.5, "quick": 2.5},
    ),
    Voice(
        "male",
        "A man's voice: Flite's rms (Carnegie Mellon University).",
        speech.male,
        {"slow": 0.9, "normal": 0.65, "quick": 0.42},
    ),
]


@dataclass(frozen=True)
class Prepared:
    """A syllable ready to be written."""

    frames: object
    vowel: centre.Vowel
    estimates: centre.Estimates
    spliced: float
    # What the estimators said before splicing, for the report.
    before: centre.Estimates


def main() -> int:
    parser = argparse.ArgumentParser(description="Make the shipped voices again.")
    parser.add_argument("--check", action="store_true", help="compare with what is there instead of writing it")
    parser.add_argument("--report", action="store_true", help="print every perceptual centre")
    options = parser.parse_args()
    if not options.check:
        make(HERE, options.report)
        return 0
    with tempfile.TemporaryDirectory() as folder:
        made = make(Path(folder), options.report)
        different = [name for name in made if not same(Path(folder) / name, HERE / name)]
        stray = [name for name in shipped_sounds() if name not in made]
    for name in different:
        print(f"{name}: not what the script makes", file=sys.stderr)
    for name in stray:
        print(f"{name}: the script does not make it", file=sys.stderr)
    if different or stray:
        return 1
    print(f"{len(made)} files are byte for byte what the script makes")
    return 0


def same(made: Path, there: Path) -> bool:
    return there.is_file() and filecmp.cmp(made, there, shallow=False)


def shipped_sounds() -> list[str]:
    return [str(file.relative_to(HERE)) for file in sorted(HERE.rglob("*.flac"))]


def make(into: Path, report: bool) -> list[str]:
    """Writes every pack and says which files it wrote."""
    made = write_languages(into)
    made += spanish.make(into, os.environ["COUNTLINE"].split())
    for voice in VOICES:
        speeds, recordings = [], {syllable.name: {} for syllable in SYLLABLES}
        for speed, setting in voice.speeds.items():
            said = voice.say(SYLLABLES, setting)
            prepared = {s.name: prepare(s, *said[s.name], MOST_BEFORE_CENTRE[speed]) for s in SYLLABLES}
            constant = centre.marcus_constant([p.estimates for p in prepared.values()])
            speeds.append({"name": speed, "marcus_constant_ms": ms(constant)})
            os.makedirs(into / voice.name / speed, exist_ok=True)
            for name, ready in prepared.items():
                file = f"{speed}/{name}.flac"
                sound.write(str(into / voice.name / file), ready.frames)
                recordings[name][speed] = entry(file, ready, constant)
                made.append(f"{voice.name}/{file}")
            if report:
                print_report(voice, speed, prepared, constant)
        manifest = f"{voice.name}/manifest.json"
        (into / manifest).write_text(manifest_text(voice, speeds, recordings))
        made.append(manifest)
    return made


def write_languages(into: Path) -> list[str]:
    """Writes the tables of the languages and says which files they are."""
    os.makedirs(into / "languages", exist_ok=True)
    made = []
    for table in languages.tables():
        name = f"languages/{table['language']}.json"
        lines = [f" {json.dumps(key)}: {json.dumps(value, ensure_ascii=False)}" for key, value in table.items()]
        (into / name).write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")
        made.append(name)
    return made


def prepare(syllable: Syllable, frames, phones: list[speech.Phone], most_before) -> Prepared:
    """Trims, splices and levels a syllable and estimates its centre."""
    begin, end = sound.audible(frames, phones[0][1])
    frames = sound.with_soft_ends(frames[begin:end])
    vowel = stressed_vowel(syllable, phones).earlier(begin / sound.RATE, len(frames) / sound.RATE)
    before = centre.estimate(frames, vowel)
    spliced = 0.0
    # A word that begins with another vowel has no long first consonant to take from.
    if most_before is not None and syllable.stressed == 0:
        too_long = statistics.median([before.cummins_port, before.scott, vowel.begin]) - most_before
        if too_long > LEAST_SPLICE:
            spliced = int(too_long * sound.RATE) / sound.RATE
            frames = sound.without(frames, spliced)
            vowel = vowel.earlier(spliced, len(frames) / sound.RATE)
    lufs = SOFT_LOUDNESS_LUFS if syllable.soft else LOUDNESS_LUFS
    frames = sound.levelled(frames, lufs, PEAK_DBFS)
    # Estimated on what the file will hold, so that anyone can estimate it again from the file.
    frames = sound.sixteen_bits(frames) / 32768.0
    return Prepared(frames, vowel, centre.estimate(frames, vowel), spliced, before)


def stressed_vowel(syllable: Syllable, phones: list[speech.Phone]) -> centre.Vowel:
    """The vowel that is heard on the beat; its syllable begins where the vowel before has ended.

    Without any vowel the first sound takes its place.
    """
    vowels = [phone for phone in phones if phone[0] in VOWELS] or phones
    _, begin, end = vowels[syllable.stressed]
    return centre.Vowel(begin, end, vowels[syllable.stressed - 1][2] if syllable.stressed else 0.0)


def entry(file: str, ready: Prepared, constant: float) -> dict:
    """What the manifest says of one recording."""
    return {
        "file": file,
        "length_ms": ms(len(ready.frames) / sound.RATE),
        "vowel_ms": [ms(ready.vowel.begin), ms(ready.vowel.end)],
        "syllable_ms": ms(ready.vowel.syllable),
        "spliced_ms": ms(ready.spliced),
        "loudness_lufs": round(sound.loudness(ready.frames), 1),
        "peak_dbfs": round(sound.true_peak(ready.frames), 1),
        "centre_ms": ms(ready.estimates.centre(constant)),
        "override_ms": None,
        "estimates_ms": {
            "cummins_port": ms(ready.estimates.cummins_port),
            "scott": ms(ready.estimates.scott),
            "marcus": ms(ready.estimates.marcus(constant)),
            "fastest_change": ms(ready.estimates.fastest_change),
        },
    }


def ms(seconds: float) -> float:
    """Milliseconds to a tenth; never a minus nought."""
    return round(seconds * 1000, 1) + 0.0


def manifest_text(voice: Voice, speeds: list, recordings: dict) -> str:
    """The manifest, a recording a line."""
    lines = ["{", '"version": 1,']
    lines += [f'"name": {json.dumps(voice.name)},', f'"description": {json.dumps(voice.description)},']
    lines += ['"language": "en",', f'"sample_rate_hz": {sound.RATE},', f'"speeds": {json.dumps(speeds)},']
    lines += [f'"words": {json.dumps(WORDS)},', f'"joined": {json.dumps(JOINED)},']
    lines += [f'"weak_forms": {json.dumps(WEAK_FORMS)},', '"syllables": {']
    for number, (name, by_speed) in enumerate(recordings.items()):
        rows = [f'  {json.dumps(speed)}: {json.dumps(row)}' for speed, row in by_speed.items()]
        comma = "," if number + 1 < len(recordings) else ""
        lines.append(f' {json.dumps(name)}: {{\n' + ",\n".join(rows) + f"\n }}{comma}")
    return "\n".join([*lines, "}", "}"]) + "\n"


def print_report(voice: Voice, speed: str, prepared: dict, constant: float) -> None:
    """Every centre before and after splicing, and how far apart the check finds the syllables."""
    print(f"{voice.name}, {speed}: centres in ms before and after splicing")
    own = centre.marcus_constant([p.before for p in prepared.values()])
    for name, p in prepared.items():
        print(f"  {name:9} {p.before.centre(own) * 1000:6.1f} {p.estimates.centre(constant) * 1000:6.1f}")
    for when, pick, k in (("before", lambda p: p.before, own), ("after", lambda p: p.estimates, constant)):
        starts = [pick(p).fastest_change * 1000 for p in prepared.values()]
        aligned = [(pick(p).fastest_change - pick(p).centre(k)) * 1000 for p in prepared.values()]
        sd = statistics.stdev
        print(f"  fastest change, SD {when} splicing: {sd(starts):.1f} ms from the start, {sd(aligned):.1f} ms from the centre")


if __name__ == "__main__":
    sys.exit(main())
