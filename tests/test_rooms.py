"""The arrows between rooms, and the lightness of the pure side: rules that nothing runs decay in a month."""

import ast
import subprocess
import sys
from pathlib import Path

from tests.conftest import CHECKOUT

HEAVY = {"numpy", "scipy", "cv2", "skimage", "PIL", "pillow_heif", "exifread", "click", "rich", "sqlite3", "typst"}
MAY_IMPORT = {  # room: the rooms that it may import besides itself; a flat module of meter/ is "pure"
    "pure": set(),
    "meter.draw": {"pure"},
    "meter.shelf": {"pure"},
    "meter.pixels": {"pure"},
    "meter.logbook": {"pure"},
    "calibration": {"pure"},
    "meter.jobs": {"pure", "meter.draw", "meter.shelf", "meter.pixels", "meter.logbook", "calibration"},
    "meter.cli": {"pure", "meter.shelf", "meter.jobs"},
    "meter.__main__": {"meter.cli"},
}
ROOMS = tuple(room for room in MAY_IMPORT if room != "pure")


def room_of(module: str) -> str:
    return next((room for room in ROOMS if module == room or module.startswith(room + ".")), "pure")


def our_modules() -> dict[str, Path]:
    files = [f for top in ("meter", "calibration") for f in (CHECKOUT / top).rglob("*.py")]
    return {".".join(f.relative_to(CHECKOUT).with_suffix("").parts).removesuffix(".__init__"): f for f in files}


def our_imports() -> list[tuple[str, str]]:
    pairs, modules = [], our_modules()
    for module, file in modules.items():
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.ImportFrom):
                assert node.level == 0, f"{module}: a relative import hides which room it enters"
                names = [f"{node.module}.{alias.name}" for alias in node.names]
                pairs += [(module, name if name in modules else node.module) for name in names]
            elif isinstance(node, ast.Import):
                pairs += [(module, alias.name) for alias in node.names]
    return [(a, b) for a, b in pairs if b.split(".")[0] in ("meter", "calibration", "tests", "sample_scenes")]


def test_arrows_run_one_way():
    wrong = [(a, b) for a, b in our_imports() if room_of(b) not in MAY_IMPORT[room_of(a)] | {room_of(a)}]
    assert wrong == []


def test_nothing_imports_tests_or_scenes():
    assert [(a, b) for a, b in our_imports() if b.split(".")[0] in ("tests", "sample_scenes")] == []


def test_package_fronts_import_nothing():
    for module, file in our_modules().items():
        if file.name == "__init__.py":
            body = ast.parse(file.read_text("utf-8")).body
            assert len(body) == 1, f"{module} holds more than a docstring"


def pure_modules() -> list[str]:
    return sorted(
        m for m in our_modules() if room_of(m) in ("pure", "meter.draw", "meter.shelf") and m != "calibration"
    )


def test_pure_side_loads_nothing_heavy():
    probe = f"import sys; sys.path.insert(0, '.'); import {', '.join(pure_modules())}; print(*sys.modules)"
    loaded = _run(probe).split()
    assert set(loaded) & HEAVY == set()


def test_pure_side_works_with_numpy_blocked():
    probe = (
        "import sys; sys.path.insert(0, '.')\n"
        f"for name in {sorted(HEAVY)!r}: sys.modules[name] = None\n"
        f"import {', '.join(pure_modules())}\n"
        "from meter.shelf.reader import Shelf\n"
        "from meter.ladder import ladder\n"
        "print(len(ladder(Shelf().kit('breakwater'), 12.0, None)))"
    )
    assert int(_run(probe)) >= 10


def test_settings_need_no_pictures():
    probe = "import sys; sys.path.insert(0, '.'); import meter.cli.settings; print(*sys.modules)"
    assert {"numpy", "cv2", "skimage", "PIL", "exifread", "sqlite3"} & set(_run(probe).split()) == set()


def _run(probe: str) -> str:
    done = subprocess.run([sys.executable, "-c", probe], cwd=CHECKOUT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout
