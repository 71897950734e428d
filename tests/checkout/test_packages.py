"""Installing from the lock files: what pip says, when nothing is left to do, and what the locks hold."""

import io
import json
import os
import re
import sys
import tomllib
from pathlib import Path

import pytest

from shopwarranty.checkout import stamp
from shopwarranty.checkout.folder import Checkout, data_folder, make_private
from shopwarranty.checkout.packages import is_usable
from shopwarranty.checkout.pip_progress import PipReader, Step, pinned
from shopwarranty.checkout.screen import Progress

ROOT = Path(__file__).parents[2]

# Written down from pip 23.0.1 (Debian 12) and pip 26.3 installing these very lock files.
SAID = """\
Ignoring brotlicffi: markers 'platform_python_implementation != "CPython"' don't match your environment
Collecting argon2-cffi==25.1.0
  Downloading argon2_cffi-25.1.0-py3-none-any.whl (14 kB)
Requirement already satisfied: Django==5.2.19 in ./.venv/lib/python3.11/site-packages (from -r x (line 3))
Collecting zopfli==0.4.3 (from -r requirements.lock (line 12))
  Using cached zopfli-0.4.3-cp310-abi3-manylinux2014_x86_64.manylinux_2_17_x86_64.whl (829 kB)
Installing collected packages: zopfli, argon2-cffi
Successfully installed argon2-cffi-25.1.0 zopfli-0.4.3
"""


@pytest.fixture
def checkout(tmp_path: Path) -> Checkout:
    """In a path with spaces, with a folder of packages whose Python is the one that runs the tests."""
    here = Checkout(tmp_path / "a shop's checkout")
    (here.venv / "bin").mkdir(parents=True)
    here.python.symlink_to(os.path.realpath(sys.executable))
    here.lock.write_text("a==1 \\\n    --hash=sha256:00\n")
    here.test_lock.write_text("a==1 \\\n    --hash=sha256:00\nb==2 \\\n    --hash=sha256:11\n")
    return here


def test_progress_counts_what_pip_says_and_leaves_out_other_systems() -> None:
    reader = PipReader(total=4)
    steps = [step for line in SAID.splitlines(keepends=True) if (step := reader.read(line))]
    assert steps == [
        Step("fetching", 1, 3, "argon2-cffi"),
        Step("fetching", 2, 3, "Django"),
        Step("fetching", 3, 3, "zopfli"),
        Step("installing", 0, 2),
    ]


def test_in_a_log_progress_is_a_line_now_and_then_and_the_last_one() -> None:
    out = io.StringIO()
    progress = Progress("Python packages", out)
    for done in range(1, 26):
        progress.show("fetching", done, 25, "x")
    counts = re.findall(r"fetching (\d+)/25", out.getvalue())
    assert counts == ["1", "11", "21", "25"]


def test_a_second_run_has_nothing_to_do_until_the_lock_changes(checkout: Checkout) -> None:
    assert not stamp.is_current(checkout, checkout.lock)
    stamp.write(checkout, checkout.lock)
    assert stamp.is_set_up(checkout)
    assert stamp.is_current(checkout, checkout.lock)
    assert not stamp.is_current(checkout, checkout.test_lock)
    checkout.lock.write_text("a==2 \\\n    --hash=sha256:22\n")
    assert not stamp.is_current(checkout, checkout.lock)


def test_what_the_tests_need_includes_what_running_needs(checkout: Checkout) -> None:
    stamp.write(checkout, checkout.test_lock)
    assert stamp.is_current(checkout, checkout.lock)
    assert stamp.is_current(checkout, checkout.test_lock)


def test_packages_of_another_python_do_not_count(checkout: Checkout) -> None:
    stamp.write(checkout, checkout.lock)
    content = json.loads(checkout.stamp.read_text())
    checkout.stamp.write_text(json.dumps({**content, "python": "3.4"}))
    assert not stamp.is_current(checkout, checkout.lock)


@pytest.mark.parametrize("content", ["", "{", "[]", '{"python": "3.11"}'])
def test_a_spoilt_stamp_means_install_again(checkout: Checkout, content: str) -> None:
    checkout.stamp.write_text(content)
    assert stamp.read(checkout) == stamp.Stamp()


def test_a_folder_whose_python_is_gone_is_made_anew(checkout: Checkout) -> None:
    checkout.python.unlink()
    checkout.python.symlink_to("/nowhere/python3")
    assert not is_usable(checkout)
    assert not stamp.is_set_up(checkout)


def test_settings_that_send_packages_elsewhere_are_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PIP_USER", "1")
    monkeypatch.setenv("PYTHONPATH", "/elsewhere")
    monkeypatch.setenv("PIP_CERT", "kept")
    environment = stamp.clean_environment()
    assert "PIP_USER" not in environment
    assert "PYTHONPATH" not in environment
    assert environment["PIP_CERT"] == "kept"


def test_the_data_folder_is_closed_to_others(tmp_path: Path) -> None:
    folder = make_private(data_folder(Checkout(tmp_path), {}))
    assert folder == tmp_path / "var"
    assert folder.stat().st_mode & 0o077 == 0
    assert data_folder(Checkout(tmp_path), {"SHOPWARRANTY_DATA_DIR": "/srv/shop"}) == Path("/srv/shop")


def pinned_in(lock: str) -> set[tuple[str, str]]:
    """Names and versions; a package may be pinned twice, for older and newer Pythons."""
    found = re.findall(r"^([A-Za-z0-9][\w.\-]*)==(\S+)", (ROOT / lock).read_text(), re.MULTILINE)
    return {(name.lower().replace("_", "-"), version) for name, version in found}


@pytest.mark.parametrize("name", ["requirements.lock", "requirements-test.lock"])
def test_every_locked_package_has_a_hash_and_no_address(name: str) -> None:
    text = (ROOT / name).read_text()
    entries = re.split(r"^(?=[A-Za-z0-9])", text, flags=re.MULTILINE)[1:]
    assert len(entries) == pinned(text) > 30
    assert all("--hash=sha256:" in entry for entry in entries)
    assert "://" not in text


def test_the_lock_for_tests_holds_the_same_versions_as_the_lock_for_running() -> None:
    assert pinned_in("requirements.lock") < pinned_in("requirements-test.lock")


def test_every_dependency_of_the_project_is_locked() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    wanted = {"requirements.lock": project["dependencies"]}
    wanted["requirements-test.lock"] = project["optional-dependencies"]["test"]
    for lock, lines in wanted.items():
        locked = {name for name, _version in pinned_in(lock)}
        named = {re.split(r"[\[~=<>! ;]", line)[0].lower().replace("_", "-") for line in lines}
        assert named <= locked, lock
