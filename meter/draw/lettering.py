"""How wide a line of lettering is, without a font to ask, so that nothing overflows: estimates never fall short.

The letters are those of Libertinus Serif, which the library that makes PNG and PDF carries inside; a browser without
it takes a near relative. Widths were measured on its regular, semibold and italic faces.
"""

from unicodedata import combining, normalize

FAMILY = "'Libertinus Serif', 'Linux Libertine O', 'Palatino Linotype', 'Times New Roman', serif"

_LETTERS_OF_WIDTH = {  # upper bound over the three faces [em]: the letters that fit in it
    0.25: " ',.:;|′",
    0.30: "!ijl{}°·‘’",
    0.35: "()/I\\ft•",
    0.40: '-[]`rs“”″"',
    0.45: "*?Jcz",
    0.50: "#$0123456789S_abe~§я",
    0.55: "+<=>FLP^dghkopquvxy×–−≥≤β",
    0.60: "ETn",
    0.65: "%BRVYZΒα",
    0.70: "ACKU½⅓⅔Α",
    0.75: "&DGHNOQX—…Ωω",
    0.85: "Mmw∞",
    1.00: "@WЖщ",
}
_WIDTH_OF_LETTER = {letter: width for width, letters in _LETTERS_OF_WIDTH.items() for letter in letters}
_ACCENT = 0.06  # a caron beside its letter adds this much, other accents less or nothing [em]
_UNKNOWN = 1.35  # an emoji is about as wide; letters of all scripts that fonts here have are narrower [em]


def width_of(text: str, size: float) -> float:
    """An upper bound of a line's width, in the unit of size.

    >>> width_of("f/11", 10.0)
    17.0
    """
    letters = normalize("NFD", text)
    return size * sum(_ACCENT if combining(letter) else _WIDTH_OF_LETTER.get(letter, _UNKNOWN) for letter in letters)


def fitted(text: str, size: float, room: float, smallest: float) -> tuple[str, float]:
    """The text and the size, at most `size`, at which it fits into room; cut with an ellipsis at the smallest size."""
    full = width_of(text, 1.0)
    if full * size <= room:
        return text, size
    if full * smallest <= room:
        return text, room / full
    kept = text
    while kept and width_of(kept.rstrip() + "…", smallest) > room:
        kept = kept[:-1]
    return kept.rstrip() + "…", smallest


def broken(text: str, size: float, room: float) -> list[str]:
    """Lines no wider than room, broken at spaces; a word wider than the room is cut."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_of(longer, size) <= room:
            lines[-1] = longer
        else:
            lines.append(fitted(word, size, room, size)[0])
    return lines
