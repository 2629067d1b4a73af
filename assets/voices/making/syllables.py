"""What is said: every syllable with its sounds, and the written words that stand for it."""

from dataclasses import dataclass

# The sounds that carry a syllable, in the phone set both synthesisers use.
VOWELS = set("aa ae ah ao aw ax ay eh er ey ih iy ow oy uh uw".split())


@dataclass(frozen=True)
class Syllable:
    """A syllable, or a word of several of which one is heard on the beat."""

    name: str
    # Phones, syllables parted by a full stop; a digit after a vowel is its stress.
    phones: str
    # The number, from 0, of the vowel that is heard on the beat.
    stressed: int = 0
    # A weak form stands between beats where the full one does not fit, and is softer.
    weak: bool = False

    def flat(self) -> list[str]:
        """The phones without their division into syllables."""
        return self.phones.replace(".", " ").split()

    def divided(self) -> list[list[str]]:
        """The phones of each syllable."""
        return [part.split() for part in self.phones.split(".")]


SYLLABLES = [
    Syllable("one", "w ah1 n"),
    Syllable("two", "t uw1"),
    Syllable("three", "th r iy1"),
    Syllable("four", "f ao1 r"),
    Syllable("five", "f ay1 v"),
    Syllable("six", "s ih1 k s"),
    Syllable("seven", "s eh1 . v ax0 n"),
    Syllable("eight", "ey1 t"),
    Syllable("nine", "n ay1 n"),
    Syllable("ten", "t eh1 n"),
    Syllable("eleven", "ih0 . l eh1 . v ax0 n", stressed=1),
    Syllable("twelve", "t w eh1 l v"),
    Syllable("and", "ae1 n d"),
    Syllable("and-weak", "ax0 n", weak=True),
    Syllable("e", "iy1"),
    Syllable("a", "ah1"),
    Syllable("ba", "b aa1"),
    Syllable("be", "b ey1"),
    Syllable("bi", "b iy1"),
    Syllable("da", "d aa1"),
    Syllable("de", "d ey1"),
    Syllable("di", "d iy1"),
    Syllable("du", "d uw1"),
    Syllable("ka", "k aa1"),
    Syllable("ki", "k iy1"),
    Syllable("la", "l aa1"),
    Syllable("li", "l iy1"),
    Syllable("ma", "m aa1"),
    Syllable("mi", "m iy1"),
    Syllable("ta", "t aa1"),
    Syllable("te", "t ey1"),
    Syllable("ti", "t iy1"),
    Syllable("va", "v aa1"),
    Syllable("trip", "t r ih1 p"),
    Syllable("let", "l eh1 t"),
    Syllable("rest", "r eh1 s t"),
    Syllable("ready", "r eh1 . d iy0"),
    Syllable("go", "g ow1"),
]

NUMBERS = "one two three four five six seven eight nine ten eleven twelve".split()

# The words of the count line, as they are written, and the syllable each is said with.
WORDS = (
    {str(number): name for number, name in enumerate(NUMBERS, start=1)}
    | {"&": "and", "tri": "trip", "plet": "let"}
    | {s.name: s.name for s in SYLLABLES if s.name not in NUMBERS and s.name not in ("and", "and-weak", "trip", "let")}
)

# The softer form of a syllable, where there is one.
WEAK_FORMS = {"and": "and-weak"}
