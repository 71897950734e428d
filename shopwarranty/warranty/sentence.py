"""Sentences a pure module says to a person: English with named places, translated only where it is shown."""

from collections.abc import Callable
from dataclasses import dataclass


def gettext_noop(message: str) -> str:
    """Mark `message` for the translation catalogue without importing a web framework."""
    return message


@dataclass(frozen=True, slots=True)
class Sentence:
    """`template` is the catalogue key with %(name)s places; `values` fills them after translation."""

    template: str
    values: tuple[tuple[str, str], ...] = ()

    def render(self, translate: Callable[[str], str]) -> str:
        """The sentence through `translate` (for example Django's gettext), its places filled."""
        return translate(self.template) % dict(self.values) if self.values else translate(self.template)

    def __str__(self) -> str:
        return self.render(gettext_noop)


def say(template: str, **values: object) -> Sentence:
    """A Sentence with `values` as text; mark literal templates with gettext_noop at the call."""
    return Sentence(template, tuple((name, str(value)) for name, value in values.items()))
