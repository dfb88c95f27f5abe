"""Marked series: what is engraved and what it stands for; apertures and times as people write them.

Inside, numbers are exact (f/11 is 2^3.5, 1/125 is 1/128); nominal ones exist only on the way in and out.
Source of the series: powers of two, computed; nominal labels as engraved.
"""

from math import ceil, floor, inf, isfinite, log2

from meter.errors import BadInput
from meter.plain import plain_number

FULL_STOPS = {  # engraved: stops from f/1
    0.7: -1, 1.0: 0, 1.4: 1, 2.0: 2, 2.8: 3, 4.0: 4, 5.6: 5, 8.0: 6, 11.0: 7, 16.0: 8, 22.0: 9, 32.0: 10, 45.0: 11,
    64.0: 12, 90.0: 13,
}  # fmt: skip
THIRD_STOPS = {  # engraved: thirds of a stop from f/1
    1.1: 1, 1.2: 2, 1.6: 4, 1.8: 5, 2.2: 7, 2.5: 8, 3.2: 10, 3.5: 11, 4.5: 13, 5.0: 14, 6.3: 16, 7.1: 17, 9.0: 19,
    10.0: 20, 12.5: 22, 13.0: 22, 14.0: 23, 18.0: 25, 20.0: 26, 25.0: 28, 29.0: 29, 36.0: 31, 40.0: 32, 51.0: 34,
    57.0: 35,
}  # fmt: skip
HALF_STOPS = {  # engraved on older lenses (memory), where not already a third: halves of a stop from f/1
    1.7: 3, 2.4: 5, 3.4: 7, 4.8: 9, 6.7: 11, 6.8: 11, 9.5: 13, 19.0: 17, 27.0: 19, 38.0: 21, 54.0: 23,
}  # fmt: skip
_STOPS_OF_MARK = (
    {mark: float(n) for mark, n in FULL_STOPS.items()}
    | {mark: n / 3 for mark, n in THIRD_STOPS.items()}
    | {mark: n / 2 for mark, n in HALF_STOPS.items()}
)

DOUBLING_SPEEDS = (  # engraved denominators of the modern series and the exact ones
    (2, 2), (4, 4), (8, 8), (15, 16), (30, 32), (60, 64), (125, 128), (250, 256), (500, 512), (1000, 1024),
    (2000, 2048), (4000, 4096), (8000, 8192),
)  # fmt: skip
_EXACT_DENOMINATOR = dict(DOUBLING_SPEEDS)
_THIRD_DENOMINATORS = {  # system cameras between the full stops: nominal denominator: thirds of a stop from 1 s
    3: 5, 5: 7, 6: 8, 10: 10, 13: 11, 20: 13, 25: 14, 40: 16, 50: 17, 80: 19, 100: 20, 160: 22, 200: 23, 320: 25,
    400: 26, 640: 28, 800: 29, 1250: 31, 1600: 32, 2500: 34, 3200: 35, 5000: 37, 6400: 38,
}  # fmt: skip
_LONG_TIMES = {15: 16.0, 30: 32.0, 60: 64.0}  # engraved seconds of the modern series


def aperture_stops(f_number: float) -> float:
    """Stops from f/1, 2·log2(N); more is darker. Raises BadInput unless N is above 0 and finite."""
    if not 0 < f_number < inf:
        raise BadInput(f"an f-number must be above 0 and finite; got {f_number}")
    return 2 * log2(f_number)


def f_number_at(stops: float) -> float:
    """The exact f-number this many stops from f/1, 2^(stops/2)."""
    return 2.0 ** (stops / 2)


def exact_f_number(marked: float) -> float:
    """The f-number that an engraved one stands for; one outside the series stands for itself.

    >>> round(exact_f_number(11), 3), round(exact_f_number(6.3), 3), exact_f_number(7.7)
    (11.314, 6.35, 7.7)
    """
    stops = _STOPS_OF_MARK.get(round(marked, 2))
    return marked if stops is None else f_number_at(stops)


def in_series(marked: float) -> bool:
    """Whether an engraved f-number belongs to the series of full, half or third stops.

    >>> in_series(5.6), in_series(6)
    (True, False)
    """
    return round(marked, 2) in _STOPS_OF_MARK


def mark_text(marked: float) -> str:
    """An engraved f-number as it is engraved: 5.6, 11."""
    return f"{marked:.2g}" if marked < 10 else f"{marked:.3g}" if marked < 100 else f"{marked:.0f}"


def exact_time(marked_s: float) -> float:
    """The time that an engraved one of the modern doubling series stands for; another stands for itself. [s]

    >>> exact_time(1 / 125) == 1 / 128, exact_time(1 / 100), exact_time(30.0)
    (True, 0.01, 32.0)
    """
    if marked_s >= 1:
        return _LONG_TIMES.get(round(marked_s, 3), marked_s)
    denominator = round(1 / marked_s)
    if abs(denominator * marked_s - 1) > 1e-3:
        return marked_s
    return 1 / _EXACT_DENOMINATOR.get(denominator, denominator)


def system_camera_time(nominal_s: float) -> float:
    """The exact time behind a nominal one of a system camera (full and third stops). [s]

    >>> round(1 / system_camera_time(1 / 100), 1), system_camera_time(1 / 1848) == 1 / 1848
    (101.6, True)
    """
    if nominal_s < 1:
        denominator = round(1 / nominal_s)
        thirds = _THIRD_DENOMINATORS.get(denominator)
        if thirds is not None and abs(denominator * nominal_s - 1) < 1e-3:
            return 2.0 ** (-thirds / 3)
    return exact_time(nominal_s)


def parse_f_number(text: str) -> float:
    """Read "8", "f/8", "f/11 + 0.4" or "11+4/10" (mark plus stops) as an exact f-number. Raises BadInput.

    >>> round(parse_f_number("f/11 + 0.4"), 2)
    13.0
    """
    base, plus, past = text.strip().lower().removeprefix("f").lstrip("/ ").partition("+")
    try:
        mark, stops = plain_number(base), plain_number(past) if plus else 0.0
    except ValueError:
        mark = stops = 0.0
    if not (0.3 <= mark <= 1000 and 0 <= stops <= 3):
        raise BadInput(f"aperture '{text}' is not readable: write 8, f/8, or f/11+0.4 for four tenths past f/11")
    return f_number_at(aperture_stops(exact_f_number(mark)) + stops)


def parse_time(text: str) -> float:
    """Read "1/125", "0.5", "2s", "1m30s", "2 min" or "1h" in seconds, as written. Raises BadInput. [s]

    >>> parse_time("1/125"), parse_time("1m30s"), parse_time("2 min")
    (0.008, 90.0, 120.0)
    """
    rest, total, unit_s = text.strip().lower().replace(" ", ""), 0.0, inf
    complaint = BadInput(f"time '{text}' is not readable: write 1/125, 0.5, 8s, 1m30s or 2min")
    try:
        for unit, seconds in (("h", 3600.0), ("m", 60.0), ("s", 1.0)):
            rest = rest.replace("min", "m") if unit == "m" else rest
            before, found, after = rest.partition(unit)
            if found:
                total, rest, unit_s = total + plain_number(before) * seconds, after, seconds
        if rest:
            total += plain_number(rest) * (1.0 if unit_s == inf else unit_s / 60)
    except ValueError:
        raise complaint from None
    if not 0 < total < inf:
        raise complaint
    return total


def time_text(time_s: float) -> str:
    """A time as people write it: 1/125 for anything engraved, else 1/90, 0.7 s, 12 s, 2 min 5 s, 1 h 10 min.

    >>> time_text(1 / 128), time_text(0.4), time_text(125.0), time_text(4200.0)
    ('1/125', '0.40 s', '2 min 5 s', '1 h 10 min')
    """
    if time_s < 0.3:
        denominator = 1 / time_s
        for nominal, exact in DOUBLING_SPEEDS:
            if abs(denominator / exact - 1) < 1e-6:
                return f"1/{nominal}"
        return f"1/{denominator:.0f}"
    if time_s == 0.5:
        return "1/2"
    if time_s < 9.95:
        return (
            f"{time_s:.0f} s"
            if abs(time_s - round(time_s)) < 0.005
            else f"{time_s:.2g} s"
            if time_s >= 1
            else f"{time_s:.2f} s"
        )
    seconds = round(time_s)
    if seconds < 60:
        return f"{seconds} s"
    if seconds < 3600:
        return f"{seconds // 60} min" + (f" {seconds % 60} s" if seconds % 60 else "")
    minutes = round(time_s / 60)
    return f"{minutes // 60} h" + (f" {minutes % 60} min" if minutes % 60 else "")


def ev_text(ev: float) -> str:
    """An EV or a difference in stops to a tenth, without a minus before zero."""
    return f"{ev + 0.0:.1f}".replace("-0.0", "0.0")


def nearest_third(stops: float) -> float:
    """Round to thirds of a stop."""
    return round(stops * 3) / 3


def click_positions(marks: tuple[float, ...], clicks_per_stop: int) -> tuple[float, ...]:
    """Where a click-stopped iris can stand, in stops from f/1, from its widest to its smallest mark (both always).

    marks: exact f-numbers, ascending. clicks_per_stop: 1, 2 or 3, counted from full stops.
    """
    first, last = aperture_stops(marks[0]), aperture_stops(marks[-1])
    between = range(ceil(first * clicks_per_stop - 1e-6), floor(last * clicks_per_stop + 1e-6) + 1)
    places = {round(n / clicks_per_stop, 9) for n in between} | {round(first, 9), round(last, 9)}
    return tuple(sorted(places))


def aperture_text(f_number: float, marks: tuple[float, ...]) -> str:
    """An f-number as stops past the engraved mark below it: "f/11", "f/11 + 0.4".

    marks: engraved (nominal) f-numbers. Rounds to tenths; a full tenth from the next mark shows that mark.
    """
    stops = aperture_stops(f_number)
    below = [m for m in marks if aperture_stops(exact_f_number(m)) <= stops + 0.05]
    if not below or not isfinite(stops):
        return f"f/{f_number:.3g}"
    past = stops - aperture_stops(exact_f_number(below[-1]))
    tenths = round(past * 10)
    return f"f/{mark_text(below[-1])}" + (f" + {tenths / 10:.1f}" if tenths > 0 else "")


def pointer_words(below: float, above: float, fraction: float) -> str:
    """Where an iris pointer stands between engraved marks, in tenths of the way: "on 11" where it is on one.

    >>> pointer_words(11, 16, 0.42), pointer_words(8, 8, 0.0)
    ('4/10 of the way from 11 to 16', 'on 8')
    """
    tenths = round(10 * fraction)
    if tenths in (0, 10):
        return f"on {mark_text(below if tenths == 0 else above)}"
    return f"{tenths}/10 of the way from {mark_text(below)} to {mark_text(above)}"
