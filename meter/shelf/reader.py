"""Finds, reads and checks data files. The first place that has a name wins: --shelf DIR, the config folder, ours.

A place holds films/NAME.toml, kits/NAME.toml and, if it adds to them, filters.toml, subjects.toml and daylight.toml.
The profiles/ beside them, one file a phone camera, are found by meter/jobs/find_profile.py.
README.md beside this file says what the keys mean.
"""

from collections.abc import Callable, Iterator
from functools import cached_property
from pathlib import Path

from meter.camera import Kit
from meter.errors import ShelfError
from meter.factors import Filter
from meter.film import Film
from meter.guide import DaylightRow, Subject
from meter.shelf import entries, faults, names

LARGEST_BYTES = 1_000_000  # no data file of ours or yours needs more
LISTS = {  # file: (its section, its checker, its type)
    "filters.toml": ("filter", faults.filters_faults, entries.filter_from),
    "subjects.toml": ("subject", faults.subjects_faults, entries.subject_from),
    "daylight.toml": ("row", faults.daylight_faults, entries.daylight_from),
}
PARTS = ("films", "kits", "profiles", *LISTS)


def read_toml(file: Path, problems: Callable[[dict], Iterator[str]]) -> dict:
    """What a data file holds, once its checker has no complaint.

    Raises ShelfError naming the file: with the line where the TOML breaks, or with every fault.
    """
    import tomllib

    try:
        content = file.read_bytes()
        if len(content) > LARGEST_BYTES:
            raise ShelfError(f"{file} is too large for a data file: {len(content)} bytes, {LARGEST_BYTES} at most")
        data = tomllib.loads(content.decode("utf-8"))
    except OSError as error:
        raise ShelfError(f"{file} cannot be read: {error.strerror or error}") from error
    except UnicodeDecodeError as error:
        raise ShelfError(f"{file} is not UTF-8 text (byte {error.start}): save it as UTF-8") from error
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise ShelfError(f"{file} is not valid TOML: {error or 'nested too deeply'}") from error
    found = list(problems(data))
    if found:
        raise ShelfError(f"{file} cannot be used. " + "; ".join(found))
    return data


class Shelf:
    """Films, kits, filters, subjects and the daylight guide.

    folder: what --shelf names. config: the user's own folder; by default the platform's for this program.
    begin: whether the folder may be empty or missing still, because something is about to be put on it.
    Every method raises ShelfError for a name that is not there or a file that cannot be trusted.
    """

    def __init__(self, folder: Path | None = None, config: Path | None = None, *, begin: bool = False):
        if folder is not None and not begin and not any((folder / part).exists() for part in PARTS):
            raise ShelfError(f"{folder} is no shelf: it has none of {', '.join(PARTS)}")
        self._folder, self._config = folder, config

    @cached_property
    def _places(self) -> list[Path]:
        from platformdirs import user_config_path

        own = user_config_path("stopgap") if self._config is None else self._config
        return [place for place in (self._folder, own, Path(__file__).parent) if place is not None]

    @property
    def own_folder(self) -> Path:
        """Where the user's own files go: --shelf DIR, else the config folder (which may not be there yet)."""
        return self._places[0]

    def _catalogue(self, section: str) -> dict[str, Path]:
        """slug: file, sorted; of files whose names mean the same the one in the first place."""
        found: dict[str, tuple[str, Path]] = {}
        for place in self._places:
            folder = place / section
            for file in folder.iterdir() if folder.is_dir() else ():
                stem, dot, ending = file.name.rpartition(".")
                if dot and ending == "toml" and names.compact(stem):
                    found.setdefault(names.compact(stem), (stem.lower(), file))
        return dict(sorted(found.values(), key=lambda pair: names.sorting_key(pair[0])))

    def film_names(self) -> tuple[str, ...]:
        """The slugs of all films, sorted by words and numbers."""
        return tuple(self._catalogue("films"))

    def kit_names(self) -> tuple[str, ...]:
        """The slugs of all kits, sorted by words and numbers."""
        return tuple(self._catalogue("kits"))

    def profile_names(self) -> tuple[str, ...]:
        """The slugs of all phone profiles, sorted by words and numbers."""
        return tuple(self._catalogue("profiles"))

    def profile_file(self, name: str) -> Path:
        """The file of the phone profile of this name."""
        catalogue = self._catalogue("profiles")
        entries = dict.fromkeys(catalogue, ())
        slug = names.find(name, entries, "profile")
        if slug is None:
            raise names.unknown(name, entries, "profile")
        return catalogue[slug]

    def film(self, name: str) -> Film:
        """The film of this name, slug or other name; "hp5" and "HP5 Plus" find hp5-plus."""
        return self._one("film", self._catalogue("films"), name, self._film)

    def kit(self, name: str) -> Kit:
        """The kit of this name or slug."""
        return self._one("kit", self._catalogue("kits"), name, self._kit)

    def films(self) -> tuple[list[Film], dict[str, ShelfError]]:
        """Every film that can be read, and slug: error of every file that cannot."""
        return _readable(self._catalogue("films"), self._film)

    def kits(self) -> tuple[list[Kit], dict[str, ShelfError]]:
        """Every kit that can be read, and slug: error of every file that cannot."""
        return _readable(self._catalogue("kits"), self._kit)

    def kit_file(self, name: str) -> Path:
        """The file that holds the kit of this name or slug."""
        return self._catalogue("kits")[self.kit(name).slug]

    @staticmethod
    def _film(slug: str, file: Path) -> Film:
        return entries.film_from(slug, read_toml(file, faults.film_faults))

    @staticmethod
    def _kit(slug: str, file: Path) -> Kit:
        return entries.kit_from(slug, read_toml(file, faults.kit_faults))

    @staticmethod
    def _one(what: str, catalogue: dict[str, Path], name: str, load: Callable):
        slug = names.find(name, dict.fromkeys(catalogue, ()), what)
        if slug is None:  # other names stand inside the files
            loaded, broken = _readable(catalogue, load)
            labels = {one.slug: (one.name, *getattr(one, "also", ())) for one in loaded}
            slug = names.find(name, labels, what)
            if slug is None and broken:  # perhaps the name stands in one of these
                raise next(iter(broken.values()))
            if slug is None:
                raise names.unknown(name, labels, what)
        return load(slug, catalogue[slug])

    def _listed(self, file_name: str) -> dict:
        """slug: entry of a list file, the entries of the first place winning."""
        section, problems, make = LISTS[file_name]
        found: dict = {}
        for place in self._places:
            file = place / file_name
            if not file.is_file():
                continue
            data = read_toml(file, problems)
            common = {key: data[key] for key in ("source", "evidence") if key in data}
            for entry in data[section]:
                found.setdefault(entry["slug"], make(common | entry))
        return found

    def filters(self, film: Film | None = None) -> dict[str, Filter]:
        """slug: filter. Figures of this film's own replace the general ones; its extra filters are there too."""
        own = {one.slug: one for one in film.filters} if film else {}
        return self._listed("filters.toml") | own

    def filter(self, name: str, film: Film | None = None) -> Filter:
        """The filter of this name or slug, for this film."""
        return _named(name, self.filters(film), "filter")

    def subjects(self) -> dict[str, Subject]:
        """slug: subject whose zone is agreed on."""
        return self._listed("subjects.toml")

    def subject(self, name: str) -> Subject:
        """The subject of this name or slug."""
        return _named(name, self.subjects(), "subject")

    def daylight(self) -> dict[str, DaylightRow]:
        """slug: row of the daylight guide, in the guide's order."""
        return self._listed("daylight.toml")

    def daylight_row(self, name: str) -> DaylightRow:
        """The row of this name or slug; "open shade" finds open-shade."""
        return _named(name, self.daylight(), "daylight row")


def _readable(catalogue: dict[str, Path], load: Callable) -> tuple[list, dict[str, ShelfError]]:
    """What a catalogue's files hold, and slug: error of those that cannot be used."""
    loaded, broken = [], {}
    for slug, file in catalogue.items():
        try:
            loaded.append(load(slug, file))
        except ShelfError as error:
            broken[slug] = error
    return loaded, broken


def _named(name: str, listed: dict, what: str):
    labels = {slug: (one.name, *one.also) for slug, one in listed.items()}
    slug = names.find(name, labels, what)
    if slug is None:
        raise names.unknown(name, labels, what)
    return listed[slug]
