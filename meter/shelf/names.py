"""Finding an entry by the name a person types: case, spaces and punctuation do not count, and part of a name may do."""

from collections.abc import Iterable, Mapping

from meter.errors import ShelfError


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


def unknown(name: str, known: Iterable[str], what: str) -> ShelfError:
    """The error for a name that nothing fits: a likely one, and all there are."""
    from difflib import get_close_matches

    slugs = {compact(slug): slug for slug in known}
    near = get_close_matches(compact(name), slugs, n=1, cutoff=0.6)
    hint = f"; did you mean {slugs[near[0]]}?" if near else ";"
    return ShelfError(f"{what} '{name}' is not on the shelf{hint} there are {', '.join(slugs.values()) or 'none'}")
