"""The page out of an installed package: every file is in the wheel, and a server that runs from it shows the page."""

from __future__ import annotations

import subprocess
import sys
import sysconfig
from functools import partial
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.api.running import ROOT, running

OURS = ("api", "scheduler", "scenarios", "pyproject.toml", "README.md", "LICENSE")


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A virtual environment with the wheel, built from a copy without what earlier builds left behind.

    What the package depends on is lent by the environment of the tests, where a path in a `.pth` file (see Python's
    module ``site``) finds it; the package itself is only in the new one.
    """
    folder = tmp_path_factory.mktemp("package")
    tracked = subprocess.run(
        ["git", "ls-files", "-zco", "--exclude-standard", *OURS], cwd=ROOT, check=True, capture_output=True, text=True
    )
    for name in filter(None, tracked.stdout.split("\0")):
        if (ROOT / name).is_file():
            (folder / "source" / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / "source" / name).write_bytes((ROOT / name).read_bytes())
    run = partial(subprocess.run, check=True, capture_output=True, timeout=300)
    run([sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", folder, folder / "source"])
    run([sys.executable, "-m", "venv", folder / "venv"])
    python = folder / "venv" / "bin" / "python"
    run([python, "-m", "pip", "install", "--quiet", "--no-deps", "--no-index", *folder.glob("weekwright-*.whl")])
    found = run([python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"], text=True)
    packages = Path(found.stdout.strip())
    (packages / "lent.pth").write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")
    return packages


def files_of(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_the_wheel_holds_every_file_of_the_page(installed: Path) -> None:
    page = files_of(ROOT / "api" / "page")
    assert "modules/main.js" in page
    assert files_of(installed / "api" / "page") == page
    assert not (installed / "tests").exists()


def test_the_page_of_the_installed_package_solves_a_week(installed: Path, browser: Browser, tmp_path: Path) -> None:
    with running(
        f"sqlite:///{tmp_path}/store.sqlite3", installed=installed.parents[2] / "bin" / "weekwright"
    ) as server:
        page = browser.new_page()
        page.set_default_timeout(60_000)
        try:
            page.goto(server.url)
            page.click("[data-demo=beginner_full_body]")
            page.wait_for_selector(".session")
            assert page.locator("article.session").count() == 3
        finally:
            page.close()
