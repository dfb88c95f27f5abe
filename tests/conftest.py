"""Fixtures that several rooms share."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

settings.register_profile("house", deadline=None, derandomize=True)  # no clock decides, and every run is the same
settings.load_profile("house")

CHECKOUT = Path(__file__).parent.parent


@pytest.fixture(scope="session")
def real_photos() -> Path:
    """The folder of real photographs beside the checkout (../shared/photos); skips where it is absent."""
    folder = Path(os.environ.get("STOPGAP_PHOTOS", CHECKOUT.parent / "shared" / "photos"))
    if not folder.is_dir():
        pytest.skip("no real photographs here: set STOPGAP_PHOTOS to a folder that has them")
    return folder
