"""What a defect is called goes by its reader, not by whoever wrote it down. Values: our own catalogues."""

import pytest
from django.utils.translation import override

from shopwarranty.defects.kind_in_words import kind_in_words


@pytest.mark.parametrize(("language", "said"), [("en", "edge lift"), ("es", "borde levantado")])
def test_a_kind_of_the_catalogue_is_said_in_the_readers_language(language: str, said: str) -> None:
    with override(language):
        assert kind_in_words("edge-lift", "edge lift") == said


@pytest.mark.parametrize("key", ["fish-eye", ""])
def test_a_kind_of_the_shops_own_keeps_its_words(key: str) -> None:
    with override("es"):
        assert kind_in_words(key, "fish eye") == "fish eye"
