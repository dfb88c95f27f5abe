"""Text from outside made safe: numbers that cannot grow without bound, words without control codes."""

import re

_NUMBER = re.compile(r"\d{1,9}(\.\d{0,9})?|\.\d{1,9}")


def plain_number(text: str) -> float:
    """Read "3", "0.25", ".5", "1/125" or "1.5/4" as a number. Raises ValueError for anything else.

    No exponents and few digits: what a person writes is short, and 1e99999999 would take for ever.

    >>> plain_number("1/4"), plain_number(" .5 ")
    (0.25, 0.5)
    """
    above, slash, below = text.strip().partition("/")
    parts = [above, below] if slash else [above]
    if not all(_NUMBER.fullmatch(part.strip()) for part in parts):
        raise ValueError(f"not a plain number: {text!r}")
    if slash and float(below) == 0:
        raise ValueError(f"divides by zero: {text!r}")
    return float(above) / float(below) if slash else float(above)


def visible(text: str) -> str:
    """Text without control codes, terminal escapes and broken characters; each becomes a replacement character."""
    return "".join(letter if letter.isprintable() or letter == "\n" else "\ufffd" for letter in text)
