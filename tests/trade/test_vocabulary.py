"""All that is shown can be found for translation."""

from shopwarranty.trade import vocabulary


def test_every_phrase_is_there_once_and_none_is_a_key() -> None:
    phrases = vocabulary.every_phrase()
    assert len(set(phrases)) == len(phrases)
    for expected in ("left front door", "edge lift", "post-heated", "trim in the way", "C or F?", "top left"):
        assert expected in phrases
    assert not [p for p in phrases if "_" in p or not p.strip() or p != p.strip()]
