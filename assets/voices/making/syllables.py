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
    # Softer than the others: what stands between beats where the full form does not fit, and the hush of a rest.
    soft: bool = False

    def flat(self) -> list[str]:
        """The phones without their division into syllables."""
        return self.phones.replace(".", " ").split()

    def vowels(self) -> int:
        """How many sounds carry a syllable."""
        return sum(phone.rstrip("012") in VOWELS for phone in self.flat())

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
    # In counting the first syllable is stressed (common practice), and it is heard on the beat.
    Syllable("thirteen", "th er1 . t iy0 n"),
    Syllable("fourteen", "f ao1 r . t iy0 n"),
    Syllable("fifteen", "f ih1 f . t iy0 n"),
    Syllable("sixteen", "s ih1 k . s t iy0 n"),
    Syllable("seventeen", "s eh1 . v ax0 n . t iy0 n"),
    Syllable("eighteen", "ey1 . t iy0 n"),
    Syllable("nineteen", "n ay1 n . t iy0 n"),
    Syllable("twenty", "t w eh1 n . t iy0"),
    Syllable("thirty", "th er1 . t iy0"),
    Syllable("forty", "f ao1 r . t iy0"),
    Syllable("fifty", "f ih1 f . t iy0"),
    Syllable("sixty", "s ih1 k . s t iy0"),
    Syllable("seventy", "s eh1 . v ax0 n . t iy0"),
    Syllable("eighty", "ey1 . t iy0"),
    Syllable("ninety", "n ay1 n . t iy0"),
    Syllable("hundred", "hh ah1 n . d r ax0 d"),
    # As they are counted where there is no time for the whole word (common practice).
    Syllable("sev", "s eh1 v"),
    Syllable("lev", "l eh1 v"),
    Syllable("and", "ae1 n d"),
    Syllable("and-weak", "ax0 n", soft=True),
    Syllable("e", "iy1"),
    Syllable("a", "ah1"),
    Syllable("o", "ow1"),
    Syllable("am", "aa1 m"),
    Syllable("ba", "b aa1"),
    Syllable("be", "b ey1"),
    Syllable("bi", "b iy1"),
    Syllable("co", "k ow1"),
    Syllable("da", "d aa1"),
    Syllable("de", "d ey1"),
    Syllable("di", "d iy1"),
    Syllable("du", "d uw1"),
    Syllable("im", "ih1 m"),
    Syllable("it", "ih1 t"),
    Syllable("ka", "k aa1"),
    Syllable("ki", "k iy1"),
    Syllable("la", "l aa1"),
    Syllable("li", "l iy1"),
    Syllable("ma", "m aa1"),
    Syllable("mi", "m iy1"),
    Syllable("pa", "p aa1"),
    Syllable("ple", "p ax0 l"),
    Syllable("plet", "p l eh1 t"),
    Syllable("ri", "r iy1"),
    Syllable("sh", "sh", soft=True),
    Syllable("syn", "s ih1 n"),
    Syllable("ta", "t aa1"),
    Syllable("tam", "t aa1 m"),
    Syllable("te", "t ey1"),
    Syllable("ti", "t iy1"),
    Syllable("tim", "t ih1 m"),
    Syllable("tri", "t r ih1"),
    Syllable("va", "v aa1"),
    Syllable("go", "g ow1"),
    Syllable("play", "p l ey1"),
    Syllable("ready", "r eh1 . d iy0"),
    Syllable("rest", "r eh1 s t"),
]

ONES = "one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()
TENS = "twenty thirty forty fifty sixty seventy eighty ninety".split()


def spoken(number: int) -> list[str]:
    """The syllables of a number from 1 to 999: 21 is twenty one, 137 one hundred thirty seven."""
    hundreds, rest = divmod(number, 100)
    parts = [ONES[hundreds - 1], "hundred"] if hundreds else []
    if rest >= 20:
        parts.append(TENS[rest // 10 - 2])
        rest %= 10
    return parts + ([ONES[rest - 1]] if rest else [])


# The highest number that can be counted: the bars of a rest.
MOST = 200

# Syllables that stand for no word of their own.
PARTS = {"and", "and-weak", "hundred", "sev", "lev"}

# The words of the count line, as they are written, and the syllable each is said with.
WORDS = (
    {str(number): spoken(number)[0] for number in range(1, MOST + 1) if len(spoken(number)) == 1}
    | {"&": "and", "i": "e"}
    | {s.name: s.name for s in SYLLABLES if s.name not in {*ONES, *TENS, *PARTS}}
)

# Words said with several syllables, one after another; the first is heard on the beat.
JOINED = {str(number): spoken(number) for number in range(1, MOST + 1) if len(spoken(number)) > 1}

# The shorter form of a syllable, where there is one.
WEAK_FORMS = {"and": "and-weak", "seven": "sev", "eleven": "lev"}
