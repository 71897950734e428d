"""Messages that xgettext walks past: asked for inside of f-strings, or by a name of the module's own."""

import ast
from collections.abc import Iterator

KNOWN = {
    "_": "gettext",
    "gettext": "gettext",
    "gettext_lazy": "gettext",
    "gettext_noop": "gettext",
    "ngettext": "ngettext",
    "ngettext_lazy": "ngettext",
    "pgettext": "pgettext",
    "pgettext_lazy": "pgettext",
    "npgettext": "npgettext",
}


def overlooked(module: str) -> str:
    """Those messages again, as calls that xgettext understands."""
    tree = ast.parse(module)
    names = {**KNOWN, **own_names(tree)}
    inside = {
        id(each) for text in ast.walk(tree) if isinstance(text, ast.JoinedStr) for each in ast.walk(text)
    }
    return "".join(
        f"{names[name]}({', '.join(words)})\n"
        for call, name, words in asked(tree, names)
        if id(call) in inside or name not in KNOWN
    )


def own_names(tree: ast.Module) -> dict[str, str]:
    return {
        each.asname: KNOWN[each.name]
        for line in ast.walk(tree)
        if isinstance(line, ast.ImportFrom) and line.module == "django.utils.translation"
        for each in line.names
        if each.asname and each.name in KNOWN
    }


def asked(tree: ast.Module, names: dict[str, str]) -> Iterator[tuple[ast.Call, str, list[str]]]:
    """Every call of those names with its literal words."""
    for call in ast.walk(tree):
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id in names:
            words = [repr(words) for words in literals(call)]
            if words and isinstance(call.args[0], ast.Constant):
                count = ["1"] if names[call.func.id].startswith("n") else []
                yield call, call.func.id, [*words, *count]


def literals(call: ast.Call) -> list[str]:
    constants = [each.value for each in call.args if isinstance(each, ast.Constant)]
    return [each for each in constants if isinstance(each, str)]
