"""The catalogues of words: taken from the source, compared with it, compiled. Needs gettext's programs.

`.ci/messages` brings the catalogues up to the source and compiles them. The compiled ones are committed, so
that nobody needs gettext to run the program.
"""

import gettext
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from .overlooked import overlooked

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "shopwarranty"
LANGUAGES = ("de", "es")
PROGRAMS = ("xgettext", "msgfmt", "msgmerge", "msgattrib", "msgen")
TRADE = "trade_phrases.py"
ESCAPED = re.compile(r"(?<!\\)\\u(00a0|20[1-2][0-9a-f])(?<!2028)(?<!2029)")
NOT_READ = ("__pycache__", "migrations", "static", "locale")

ALIAS = re.compile(r"\b(n?p?gettext(?:_lazy)?) as (\w+)")

Catalogue = dict[str | tuple[str, int], str]


def catalogue_of(language: str) -> Path:
    return SOURCE / "locale" / language / "LC_MESSAGES" / "django.po"


def run(*command: str | Path) -> str:
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def said_in_source(folder: Path) -> Path:
    """The template of a catalogue: what modules and page templates say, and every phrase of the trade."""
    copied = folder / "shopwarranty"
    shutil.copytree(SOURCE, copied, ignore=shutil.ignore_patterns(*NOT_READ))
    for module in copied.rglob("*.py"):
        text = module.read_text()
        module.write_text(spelled_out(text) + "\n" + overlooked(text))
    for module in copied.rglob("*.py"):
        module.write_text(under_known_names(module.read_text()))
    (copied / TRADE).write_text(trade_phrases())
    (copied / "locale").mkdir()
    command = ("-m", "django", "makemessages", "-l", "en", "--keep-pot", "--no-wrap", "--add-location=file")
    environment = {k: v for k, v in os.environ.items() if k != "DJANGO_SETTINGS_MODULE"}
    subprocess.run([sys.executable, *command], cwd=copied, env=environment, check=True, capture_output=True)
    return copied / "locale" / "django.pot"


def spelled_out(module: str) -> str:
    """xgettext takes an escaped character for six letters; Python, which asks for the message, does not."""
    return ESCAPED.sub(lambda found: chr(int(found[1], 16)), module)


def under_known_names(text: str) -> str:
    """`_p(...)` of `pgettext_lazy as _p` under its own name: xgettext knows no other than `_`."""
    for name, alias in ALIAS.findall(text):
        text = text if alias == "_" else re.sub(rf"(?<![\w.]){alias}\(", f"{name}(", text)
    return text


def trade_phrases() -> str:
    """The trade's lists know nothing of translation: what they say is put where xgettext finds it."""
    from shopwarranty.trade.vocabulary import every_phrase

    return "".join(f"_({phrase!r})\n" for phrase in every_phrase())


def compiled(catalogue: Path, folder: Path) -> Catalogue:
    """What a catalogue says; what is empty or fuzzy is left out. Plurals are keyed by (words, form)."""
    target = folder / f"{catalogue.parent.parent.name}.mo"
    run("msgfmt", "--check-format", "--check-header", "-o", target, catalogue)
    return read(target)


def asked_for(template: Path, folder: Path) -> Catalogue:
    """Every message of the source, as its own translation. A template does not know how many plurals."""
    english, target = folder / "english.po", folder / "english.mo"
    two = template.read_text().replace("nplurals=INTEGER; plural=EXPRESSION", "nplurals=2; plural=(n != 1)")
    template.write_text(two)
    run("msgen", "--lang=en", "--no-wrap", "-o", english, template)
    run("msgfmt", "-o", target, english)
    return read(target)


def read(target: Path) -> Catalogue:
    with target.open("rb") as file:
        said: Catalogue = gettext.GNUTranslations(file)._catalog  # type: ignore[attr-defined]
    return {key: words for key, words in said.items() if key != ""}


def bring_up_to_source(template: Path, catalogue: Path) -> None:
    """Adds what is new, empty; drops what nobody says any more. Nothing is guessed."""
    quietly = ("--quiet", "--update", "--backup=none", "--no-fuzzy-matching", "--no-wrap")
    run("msgmerge", *quietly, catalogue, template)
    kept = run("msgattrib", "--no-obsolete", "--no-wrap", catalogue)
    undated = (line for line in kept.splitlines(keepends=True) if not line.startswith('"POT-Creation-Date'))
    catalogue.write_text("".join(undated))


def compile_beside(catalogue: Path) -> None:
    """msgfmt itself says what is wrong where, and how many are left to translate."""
    target = catalogue.with_suffix(".mo")
    subprocess.run(["msgfmt", "--check-format", "--statistics", "-o", target, catalogue], check=True)


def main(folder: Path, languages: Sequence[str]) -> None:
    template = said_in_source(folder)
    for language in languages:
        bring_up_to_source(template, catalogue_of(language))
        compile_beside(catalogue_of(language))


if __name__ == "__main__":
    import tempfile

    with tempfile.TemporaryDirectory() as name:
        main(Path(name), sys.argv[1:] or LANGUAGES)
