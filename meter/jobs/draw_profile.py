"""Draw a phone's profile: its response against sRGB, how sure it is, what was left over."""

from pathlib import Path

from meter.draw.profile_plot import profile_plot
from meter.errors import BadInput
from meter.jobs.whole_file import whole_file
from meter.profile_file import ProfileFile

PNG_WIDTH = 1640


def draw_profile(content: ProfileFile, path: Path) -> None:
    """Write the plot as SVG or PNG, as the name ends. Raises BadInput for another ending, MeterError."""
    kind = path.suffix.lower()
    if kind not in (".svg", ".png"):
        raise BadInput(f"'{path.name}' does not end in .svg or .png: a profile is drawn as one of these")
    svg = profile_plot(content)
    if kind == ".png":
        from meter.pixels.plate import png_of

        drawn = png_of(svg, PNG_WIDTH)
    else:
        drawn = svg.encode("utf-8")
    with whole_file(path) as part:
        part.write_bytes(drawn)
