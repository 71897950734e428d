"""`manage.py` as a person types it, in a copy of the checkout that is not set up."""

import ast
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from shopwarranty.checkout import django_commands, settings_file, stamp
from shopwarranty.checkout.folder import Checkout
from shopwarranty.checkout.screen import Refusal

ROOT = Path(__file__).parents[2]
BARE_PYTHON = getattr(sys, "_base_executable", sys.executable)


@pytest.fixture
def fresh(tmp_path: Path) -> Path:
    """Only what `manage.py` needs before the set-up, in a path with spaces."""
    root = tmp_path / "the shop's checkout"
    root.mkdir()
    shutil.copy(ROOT / "manage.py", root)
    for name in ("requirements.lock", "requirements-test.lock", "shopwarranty/__init__.py"):
        (root / name).parent.mkdir(exist_ok=True)
        shutil.copy(ROOT / name, root / name)
    shutil.copytree(ROOT / "shopwarranty" / "checkout", root / "shopwarranty" / "checkout")
    return root


def type_in(folder: Path, root: Path, *arguments: str) -> "subprocess.CompletedProcess[str]":
    """With a Python that has none of our packages, as on a fresh machine."""
    return subprocess.run(
        [BARE_PYTHON, "-S", "-B", str(root / "manage.py"), *arguments],
        cwd=folder,
        env={"PATH": os.environ["PATH"], "HOME": str(folder)},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
    )


@pytest.mark.parametrize("arguments", [["migrate"], ["import_jobs", "--shop", "demo"], ["help"], []])
def test_other_commands_say_to_run_quickstart_first(
    fresh: Path, tmp_path: Path, arguments: list[str]
) -> None:
    done = type_in(tmp_path, fresh, *arguments)
    assert done.returncode == 2
    assert "python3 manage.py quickstart" in done.stderr
    assert "Traceback" not in done.stderr + done.stdout


def test_serve_says_so_too(fresh: Path) -> None:
    done = type_in(fresh, fresh, "serve")
    assert done.returncode == 2
    assert "quickstart" in done.stderr


def test_refused_commands_leave_nothing_behind(fresh: Path) -> None:
    before = sorted(fresh.rglob("*"))
    type_in(fresh, fresh, "migrate")
    assert sorted(fresh.rglob("*")) == before


def test_options_are_checked_before_anything_is_installed(fresh: Path) -> None:
    done = type_in(fresh, fresh, "quickstart", "--port", "http")
    assert done.returncode == 2
    assert "'http' is not a port" in done.stderr
    assert not (fresh / ".venv").exists()


def test_a_real_shop_that_cannot_be_asked_for_is_refused_before_anything_is_installed(fresh: Path) -> None:
    done = type_in(fresh, fresh, "quickstart", "--empty")
    assert done.returncode == 2
    assert "please give --name" in done.stderr
    assert not (fresh / ".venv").exists()


def test_a_python_that_is_too_old_is_told_which_one_is_needed(fresh: Path) -> None:
    pretend = f"import sys; sys.version_info = (3, 9, 2, 'final', 0); sys.path.insert(0, {str(fresh)!r})"
    done = subprocess.run(
        [BARE_PYTHON, "-c", f"{pretend}\nimport manage; sys.exit(manage.main())"],
        capture_output=True,
        text=True,
        cwd=fresh,
    )
    assert done.returncode == 2
    assert "needs Python 3.11 or newer; this is 3.9" in done.stderr


def test_manage_py_can_be_read_by_pythons_that_are_too_old() -> None:
    ast.parse((ROOT / "manage.py").read_text(), feature_version=(3, 6))


def test_what_runs_before_the_set_up_imports_the_standard_library_alone() -> None:
    for path in [ROOT / "manage.py", *(ROOT / "shopwarranty" / "checkout").glob("*.py")]:
        for node in ast.parse(path.read_text()).body:
            for name in imported(node):
                assert name in sys.stdlib_module_names or name == "shopwarranty", f"{path.name}: {name}"


def imported(node: ast.stmt) -> list[str]:
    """Top-level names that a statement imports; neighbours in the folder are not counted."""
    if isinstance(node, ast.Import):
        return [alias.name.partition(".")[0] for alias in node.names]
    if isinstance(node, ast.ImportFrom) and node.level == 0:
        return [(node.module or "").partition(".")[0]]
    return []


def test_written_settings_fill_in_what_the_environment_leaves_open(tmp_path: Path) -> None:
    values = {
        "SHOPWARRANTY_HOSTS": "localhost,kiln.example",
        "SHOPWARRANTY_PUBLIC_URL": "https://kiln.example",
    }
    path = settings_file.write(tmp_path, values, "Written by a test.\nTwo lines.")
    environ = {"SHOPWARRANTY_HOSTS": "mine"}
    settings_file.load(tmp_path, environ)
    assert environ == {"SHOPWARRANTY_HOSTS": "mine", "SHOPWARRANTY_PUBLIC_URL": "https://kiln.example"}
    assert path.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize(
    ("message", "unmigrated"),
    [
        ("no such table: shops_shop", True),
        ('relation "shops_shop" does not exist\nLINE 1: SELECT', True),
        ("database is locked", False),
        ('role "shop" does not exist', False),
    ],
)
def test_only_missing_tables_are_taken_for_a_missing_set_up(message: str, unmigrated: bool) -> None:
    assert django_commands.is_unmigrated(message) is unmigrated


def test_a_checkout_that_is_set_up_runs_commands_in_its_own_python(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = Checkout(tmp_path / "a checkout")
    (here.venv / "bin").mkdir(parents=True)
    here.python.symlink_to(os.path.realpath(sys.executable))
    here.lock.write_text("a==1 --hash=sha256:00\n")
    stamp.write(here, here.lock)
    started: list[list[str]] = []
    monkeypatch.setattr(os, "execve", lambda path, argv, env: started.append(argv))
    django_commands.run(here, ["export_jobs", "a file.csv"])
    assert started == [[str(here.python), str(here.manage), "export_jobs", "a file.csv"]]


def test_a_database_without_tables_is_refused_with_the_remedy(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), "shell", "-v", "0", "-c", ASK_FOR_SHOPS],
        env={
            **os.environ,
            "SHOPWARRANTY_DATA_DIR": str(tmp_path),
            "DATABASE_URL": f"sqlite:///{tmp_path}/empty.sqlite3",
        },
        capture_output=True,
        text=True,
    )
    assert done.returncode == 2, done.stderr
    assert "quickstart --no-serve" in done.stderr
    assert "Traceback" not in done.stderr


ASK_FOR_SHOPS = "from shopwarranty.shops.models import Shop; print(Shop.objects.count())"


def test_missing_packages_are_refused_in_any_other_python(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(django_commands, "find_spec", lambda name: None)
    with pytest.raises(Refusal, match="quickstart"):
        django_commands.run_here(["check"])
