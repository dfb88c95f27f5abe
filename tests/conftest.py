"""Fixtures that several rooms share."""

import atexit
import os
import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import settings

settings.register_profile("house", deadline=None, derandomize=True)  # no clock decides, and every run is the same
settings.load_profile("house")

_OWN = tempfile.mkdtemp(prefix="stopgap-tests-")  # nobody's real kits and rolls, here and in processes we start
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small matrices: threads only wait for each other
os.environ |= {"XDG_CONFIG_HOME": f"{_OWN}/config", "XDG_DATA_HOME": f"{_OWN}/data"}
atexit.register(shutil.rmtree, _OWN, ignore_errors=True)

CHECKOUT = Path(__file__).parent.parent


@pytest.fixture(scope="session")
def real_photos() -> Path:
    """The folder of real photographs beside the checkout (../shared/photos); skips where it is absent."""
    folder = Path(os.environ.get("STOPGAP_PHOTOS", CHECKOUT.parent / "shared" / "photos"))
    if not folder.is_dir():
        pytest.skip("no real photographs here: set STOPGAP_PHOTOS to a folder that has them")
    return folder
