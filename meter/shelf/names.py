"""Finding an entry by the name a person types: case, spaces and punctuation do not count, and part of a name may do."""

from collections.abc import Iterable, Mapping

from meter.errors import ShelfError

LISTED_BY = {  # what: the command that lists them all
    "film": "stopgap film list",
    "kit": "stopgap kit list",
    "profile": "stopgap calibrate list",
}
LIKELY, LIKENESS = 3, 0.6  # how many names to suggest, and how like the typed one they must be (0 to 1)
NEAREST = 6  # how many names to show of those that no command lists


def words(name: str) -> list[str]:
    """The runs of letters and of digits in a name, in lower case.

    >>> words("HP5 Plus")
    ['hp', '5', 'plus']
    """
    parts, kind = [], None
    for character in name.casefold():
        now = "letter" if character.isalpha() else "digit" if character.isdigit() else None
        if now is None:
            kind = None
        elif now == kind:
            parts[-1] += character
        else:
            parts.append(character)
            kind = now
    return parts


def compact(name: str) -> str:
    """A name without what does not count. compact("HP5 Plus") == compact("hp5-plus")."""
    return "".join(words(name))


def sorting_key(name: str) -> list[tuple[int, str]]:
    """Sorts names by words and numbers: iso-50 before iso-100."""
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in words(name)]


def _starts(parts: list[str]) -> list[str]:
    """The names that the first words of a name make."""
    return ["".join(parts[:end]) for end in range(1, len(parts) + 1)]


def find(name: str, entries: Mapping[str, Iterable[str]], what: str) -> str | None:
    """The slug that a typed name means, or None.

    entries: slug: its other names. The whole name counts first, then its first words, then words inside it.
    Raises ShelfError where a part of a name fits several entries. what: "film", "kit" ... for the message.
    """
    wanted = compact(name)
    if not wanted:
        return None
    labels = [(slug, words(label)) for slug, others in entries.items() for label in (slug, *others)]
    tiers = (
        lambda parts: "".join(parts) == wanted,
        lambda parts: wanted in _starts(parts),
        lambda parts: any(wanted in _starts(parts[begin:]) for begin in range(len(parts))),
    )
    for fits in tiers:
        slugs = list(dict.fromkeys(slug for slug, parts in labels if fits(parts)))
        if len(slugs) == 1:
            return slugs[0]
        if slugs:
            raise ShelfError(f"{what} '{name}' could be {', '.join(slugs)}: say which")
    return None


def unknown(name: str, entries: Mapping[str, Iterable[str]], what: str) -> ShelfError:
    """The error for a name that nothing fits: likely ones, and where all are listed, or else the nearest few.

    entries: slug: its other names.
    """
    if not entries:
        return ShelfError(f"{what} '{name}' is not on the shelf; there are none")
    scores = {slug: _likeness(name, (slug, *others)) for slug, others in entries.items()}
    nearest = sorted(scores, key=lambda slug: -scores[slug])
    likely = [slug for slug in nearest[:LIKELY] if scores[slug] >= LIKENESS]
    hint = f"; did you mean {' or '.join(likely)}?" if likely else ";"
    if what in LISTED_BY:
        return ShelfError(f"{what} '{name}' is not on the shelf{hint} see {LISTED_BY[what]}")
    few = ", ".join(nearest[:NEAREST])
    there_are = f"there are {few}" if len(nearest) <= NEAREST else f"the nearest of {len(nearest)} are {few}"
    return ShelfError(f"{what} '{name}' is not on the shelf{hint} {there_are}")


def _likeness(name: str, labels: Iterable[str]) -> float:
    """How much a typed name is like the most similar label, or the first words of it: 0 to 1."""
    from difflib import SequenceMatcher

    wanted = compact(name)
    starts = {start for label in labels for start in _starts(words(label))}
    return max((SequenceMatcher(None, wanted, start).ratio() for start in starts), default=0.0)
