"""How known light is written for stopgap calibrate offset."""

import pytest

from meter.cli.known_light import read_known
from meter.errors import BadInput


@pytest.mark.parametrize(
    ("text", "kind", "value", "spot"),
    [
        ("0.5,0.5=EV12.3", "meter", 12.3, (0.5, 0.5, 1.0)),
        ("0.5,0.5 = ev -2", "meter", -2.0, (0.5, 0.5, 1.0)),
        ("0.25,1,4=4000cd", "luminance", 4000.0, (0.25, 1.0, 4.0)),
        ("0.5,0.5=4000cd/m2", "luminance", 4000.0, (0.5, 0.5, 1.0)),
        ("0.5,0.5=4000 cd/m²", "luminance", 4000.0, (0.5, 0.5, 1.0)),
        ("0.5,0.5=12000lx@18%", "illuminance", 12000.0, (0.5, 0.5, 1.0)),
        ("0.5,0.5=12klx", "illuminance", 12000.0, (0.5, 0.5, 1.0)),
        ("0.5,0.5=sun@41deg", "sun", 41.0, (0.5, 0.5, 1.0)),
        ("0.5,0.5=sun@41°,18%,facing", "sun", 41.0, (0.5, 0.5, 1.0)),
        ("0.5,0.5=guide:open-shade", "guide", 0.0, (0.5, 0.5, 1.0)),
        ("guide:open-shade", "guide", 0.0, None),
    ],
)
def test_each_kind(text, kind, value, spot):
    known = read_known(text)
    assert (known.kind, known.value, known.spot, known.photo) == (kind, value, spot, None)


def test_details():
    assert read_known("0.5,0.5=EV12,K=14").k == 14 and read_known("0.5,0.5=EV12").k is None
    assert read_known("0.5,0.5=900lx@90%").reflectance == 0.9 and read_known("0.5,0.5=900lx").reflectance == 0.18
    assert read_known("0.5,0.5=sun@41deg,facing").facing and not read_known("0.5,0.5=sun@41deg,18%").facing
    assert read_known("guide:full-sun").row == "full-sun"
    assert read_known("3:0.5,0.5=EV12").photo == 3 and read_known("2:guide:full-sun").photo == 2


@pytest.mark.parametrize(
    "text",
    ["", "EV12", "0.5,0.5", "0.5,0.5=", "0.5,0.5=12", "0.5=EV12", "0.5,0.5=EV", "0.5,0.5=nan cd", "0.5,0.5=sun",
     "x,y=EV1", "0.5,0.5,1,1=EV12", "0.5,0.5=1e999cd", "guide:"],
)  # fmt: skip
def test_what_says_nothing_is_refused_with_the_grammar(text):
    with pytest.raises(BadInput, match=r"does not say what is known: write X,Y=EV12\.3"):
        read_known(text)


def test_a_spot_outside_the_picture_is_refused():
    with pytest.raises(BadInput, match="from 0"):
        read_known("1.5,0.5=EV12")
