"""The tables of languages: which syllable, by the name of its file, says a written word.

A word may stand in both: it is joined where its own syllable was not recorded.
English has the words of every shipped counting system. Of Spanish and German there are the numbers and "and": the
syllables of a counting system belong to no language. Numbers that are not in `whole` are said of parts.
"""

from syllables import JOINED, MOST, SYLLABLES, WEAK_FORMS, WORDS

SPANISH = (
    "uno dos tres cuatro cinco seis siete ocho nueve diez once doce trece catorce quince dieciseis diecisiete "
    "dieciocho diecinueve veinte veintiuno veintidos veintitres veinticuatro veinticinco veintiseis veintisiete "
    "veintiocho veintinueve"
).split()
SPANISH_TENS = "treinta cuarenta cincuenta sesenta setenta ochenta noventa".split()

GERMAN = (
    "eins zwei drei vier fuenf sechs sieben acht neun zehn elf zwoelf dreizehn vierzehn fuenfzehn sechzehn "
    "siebzehn achtzehn neunzehn"
).split()
GERMAN_TENS = "zwanzig dreissig vierzig fuenfzig sechzig siebzig achtzig neunzig".split()


def spanish(number: int) -> list[str]:
    """137 is ciento treinta y siete."""
    if number == 100:
        return ["cien"]
    if number >= 200:
        return ["doscientos"]
    if 120 < number < 130:
        return ["ciento", "veinti", SPANISH[number - 121]]
    if number > 100:
        return ["ciento", *spanish(number - 100)]
    if number < 30:
        return [SPANISH[number - 1]]
    tens = SPANISH_TENS[number // 10 - 3]
    return [tens, "y", SPANISH[number % 10 - 1]] if number % 10 else [tens]


def german(number: int) -> list[str]:
    """137 is hundert sieben und dreissig."""
    if number >= 200:
        return ["zwei", "hundert"]
    if number >= 100:
        return ["hundert", *german(number - 100)] if number > 100 else ["hundert"]
    if number < 20:
        return [GERMAN[number - 1]]
    tens, ones = GERMAN_TENS[number // 10 - 2], number % 10
    if ones == 0:
        return [tens]
    return ["ein" if ones == 1 else GERMAN[ones - 1], "und", tens]


def numbers(spoken) -> tuple[dict, dict]:
    """The numbers that are one syllable or word, and those that are joined."""
    said = {str(number): spoken(number) for number in range(1, MOST + 1)}
    whole = {word: parts[0] for word, parts in said.items() if len(parts) == 1}
    return whole, {word: parts for word, parts in said.items() if len(parts) > 1}


# Spanish words of several vowels, a diphthong being one, and how many; the other words have one.
SPANISH_VOWELS = {
    2: "uno cinco cuatro siete ocho nueve once doce trece quince veinte veinti treinta ciento".split(),
    3: "catorce dieciseis dieciocho veintiuno veintidos veintitres veintiseis veintiocho cuarenta cincuenta sesenta "
    "setenta ochenta noventa doscientos".split(),
    4: "diecisiete diecinueve veinticuatro veinticinco veintisiete veintinueve".split(),
}
# Which of them is stressed, from 0, where it is not the first.
SPANISH_STRESSED = {
    1: "catorce dieciocho veintiuno veintiocho cuarenta cincuenta sesenta setenta ochenta noventa doscientos".split(),
    2: "dieciseis diecisiete diecinueve veintidos veintitres veinticuatro veinticinco veintiseis veintisiete "
    "veintinueve".split(),
}
GERMAN_VOWELS = {2: ["sieben", "hundert", *GERMAN[12:], *GERMAN_TENS]}


def by_word(lists: dict) -> dict:
    """For each word the number whose list it stands in."""
    return {word: number for number, words in lists.items() for word in words}


def table(language, name, words, joined, weak_forms, soft, stressed, vowels, spellings) -> dict:
    """One language's table, as its file holds it."""
    return {
        "language": language,
        "name": name,
        "words": words,
        "joined": joined,
        "weak_forms": weak_forms,
        "soft": soft,
        "stressed": stressed,
        "vowels": vowels,
        "spellings": spellings,
    }


def tables() -> list[dict]:
    """All of them, the first the one that is taken when nobody chooses."""
    soft = [s.name for s in SYLLABLES if s.soft]
    stressed = {s.name: s.stressed for s in SYLLABLES if s.stressed}
    spanish_words, spanish_joined = numbers(spanish)
    # Where veintiuno was not recorded as a whole, it is veinti and uno.
    spanish_joined |= {str(20 + number): ["veinti", SPANISH[number - 1]] for number in range(1, 10)}
    german_words, german_joined = numbers(german)
    vowels = {s.name: s.vowels() for s in SYLLABLES if s.vowels() > 1}
    accents = {"dieciséis": "dieciseis", "veintidós": "veintidos", "veintitrés": "veintitres", "veintiséis": "veintiseis"}
    umlauts = {"fünf": "fuenf", "zwölf": "zwoelf", "fünfzehn": "fuenfzehn", "dreißig": "dreissig", "fünfzig": "fuenfzig"}
    return [
        table("en", "English", WORDS, JOINED, WEAK_FORMS, soft, stressed, vowels, {}),
        table("es", "Spanish", spanish_words | {"&": "y"}, spanish_joined, {}, [], by_word(SPANISH_STRESSED), by_word(SPANISH_VOWELS), accents),
        table("de", "German", german_words | {"&": "und"}, german_joined, {"und": "un"}, ["un"], {}, by_word(GERMAN_VOWELS), umlauts),
    ]
