"""Words that must not stand in a certificate, and sentences close to them that may.

Sources of the rules: 15 USC 2302(c), 2308; 16 CFR 700.7, 700.8, 700.10, 700.11, 701.3(a). Sentences are ours.
"""

import time

import pytest

from shopwarranty.warranty.legal import phrases

OFFENDING = [
    ("DISCLAIMS_IMPLIED", "We disclaim all implied warranties."),
    ("DISCLAIMS_IMPLIED", "The shop disclaims any warranty of merchantability."),
    ("DISCLAIMS_IMPLIED", "Implied warranties, including merchantability, are expressly excluded."),
    ("DISCLAIMS_IMPLIED", "There are no implied warranties."),
    ("DISCLAIMS_IMPLIED", "This warranty is in lieu of all other warranties, express or implied."),
    ("DISCLAIMS_IMPLIED", "We make no other express or implied warranties."),
    ("DISCLAIMS_IMPLIED", "The film is provided “as is”."),
    ("TIED_TO_PURCHASE", "Void unless the annual check is paid for at our shop."),
    ("TIED_TO_PURCHASE", "This warranty is only valid if the vehicle is washed with our own shampoo."),
    ("TIED_TO_PURCHASE", "Coverage ends if the film is serviced by anyone but an authorized dealer."),
    ("TIED_TO_PURCHASE", "To keep your warranty in force, have it cleaned by our team twice a year."),
    ("TIED_TO_PURCHASE", "The guarantee lapses unless the care kit is purchased."),
    ("TIED_TO_PURCHASE", "Repairs not done at our shop void this warranty."),
    ("LOOKS_TIED", "The film must be cleaned with approved products."),
    ("LOOKS_TIED", "Use only recommended cleaners."),
    ("LOOKS_TIED", "Always have it washed at our shop."),
    ("LOOKS_TIED", "Do not use other sealants."),
    ("ENDS_WITHOUT_CAUSE", "Void if washed with a pressure washer."),
    ("ENDS_WITHOUT_CAUSE", "Waxing the film voids the warranty."),
    ("ENDS_WITHOUT_CAUSE", "Film taken off or worked on by someone else, for that panel."),
    ("ENDS_WITHOUT_CAUSE", "The warranty ends when the panel is repaired elsewhere."),
    ("CHECK_IS_CONDITION", "Void if the two-week check is missed."),
    ("CHECK_IS_CONDITION", "Missing the annual inspection invalidates this warranty."),
    ("CHECK_IS_CONDITION", "This warranty is conditional on a yearly inspection."),
    ("CHECK_IS_CONDITION", "Coverage ends unless every check is kept."),
    ("DECIDES_ALONE", "Our decision is final."),
    ("DECIDES_ALONE", "The decision of the shop shall be final and binding."),
    ("DECIDES_ALONE", "Defects are determined at our sole discretion."),
    ("DECIDES_ALONE", "We alone decide what is a defect."),
    ("DECIDES_ALONE", "Whether film has failed is decided solely by the maker."),
    ("DECIDES_ALONE", "The shop has the last word."),
    ("REGISTRATION_OR_NOTHING", "Void unless the registration card is returned."),
    ("REGISTRATION_OR_NOTHING", "The warranty must be registered within 30 days."),
    ("REGISTRATION_OR_NOTHING", "Register online, otherwise the warranty will lapse."),
    ("REGISTRATION_OR_NOTHING", "Unregistered film is not covered."),
    ("PAID_EXTENSION", "An extended warranty is available for an extra charge."),
    ("PAID_EXTENSION", "For a fee the term can be extended."),
    ("NO_RIGHTS_LEFT", "Expired, no rights."),
    ("NO_RIGHTS_LEFT", "After that day you have no further rights."),
    ("NO_RIGHTS_LEFT", "All claims end with the printed term."),
    ("NO_RIGHTS_LEFT", "Your sole remedy is repair."),
    ("TERMS_ELSEWHERE", "See our website for exclusions."),
    ("TERMS_ELSEWHERE", "The full terms are available at https://shop.example/terms."),
    ("TERMS_ELSEWHERE", "This warranty is subject to our general terms."),
    ("TERMS_ELSEWHERE", "Other exclusions may apply."),
]

HARMLESS = [
    ("TIED_TO_PURCHASE", "Scratches are not covered, even those seen at our shop."),
    ("TIED_TO_PURCHASE", "Film bought from us and laid by somebody else is not covered."),
    ("CHECK_IS_CONDITION", "Panels not covered by film are not looked at during the check."),
    ("CHECK_IS_CONDITION", "The warranty covers lifting edges found at the yearly inspection."),
    ("DISCLAIMS_IMPLIED", "This warranty does not disclaim any implied warranty."),
    ("DISCLAIMS_IMPLIED", "No implied warranty is excluded or limited."),
    ("DISCLAIMS_IMPLIED", "Implied warranties last at least as long as this written warranty."),
    ("DISCLAIMS_IMPLIED", "Implied warranties are limited to the duration of this written warranty."),
    ("TIED_TO_PURCHASE", "Using another soap does not void this warranty."),
    ("TIED_TO_PURCHASE", "We repair or lay the panel new at our shop."),
    ("TIED_TO_PURCHASE", "Damage caused by other products is not covered at our shop or elsewhere."),
    ("TIED_TO_PURCHASE", "Call 555-0100, or come by our shop."),
    ("LOOKS_TIED", "Wash with a pH-neutral soap and soft cloths."),
    ("LOOKS_TIED", "Any soap may be used; our shop can advise."),
    ("ENDS_WITHOUT_CAUSE", "Damage caused by a pressure washer held too close is not covered."),
    ("ENDS_WITHOUT_CAUSE", "Damage from work on the film by others."),
    ("ENDS_WITHOUT_CAUSE", "Keep the jet 12 in away from edges."),
    ("ENDS_WITHOUT_CAUSE", "The cover ends when the vehicle is sold."),
    ("CHECK_IS_CONDITION", "Come to the two-week check. Missing it does not end this warranty."),
    ("CHECK_IS_CONDITION", "Missing the check does not end this warranty."),
    ("CHECK_IS_CONDITION", "The check is an offer: this warranty is not conditional on a check."),
    ("CHECK_IS_CONDITION", "We look at every edge at the two-week check, free of charge."),
    ("DECIDES_ALONE", "Our decision is not final: you can ask for a second look."),
    ("DECIDES_ALONE", "We decide within 10 days and tell you why."),
    ("REGISTRATION_OR_NOTHING", "You need not register: we register at issue."),
    ("REGISTRATION_OR_NOTHING", "Registering is not a condition of this warranty."),
    ("PAID_EXTENSION", "Repairs are done without charge."),
    ("NO_RIGHTS_LEFT", "You lose no rights by using this warranty."),
    ("NO_RIGHTS_LEFT", "No rights under law are affected."),
    ("NO_RIGHTS_LEFT", "The printed term has ended; rights under law may continue."),
    ("TERMS_ELSEWHERE", "Send it with the code above, or write to desk@shop.example."),
]


@pytest.mark.parametrize(("listed", "sentence"), OFFENDING)
def test_an_offending_sentence_is_found_and_quoted(listed: str, sentence: str) -> None:
    found = getattr(phrases, listed).hit(["Edges may lift.", sentence])
    assert found
    assert found in sentence


@pytest.mark.parametrize(("listed", "sentence"), HARMLESS)
def test_a_sentence_close_to_it_passes(listed: str, sentence: str) -> None:
    assert getattr(phrases, listed).hit([sentence]) == ""


@pytest.mark.parametrize("listed", sorted({name for name, _ in OFFENDING}))
def test_a_plain_certificate_trips_no_list(listed: str) -> None:
    ordinary = (
        "An edge lifts, film peels. We press it down again or lay the panel new. You pay nothing.",
        "Stone chips, scrapes, collisions, vandalism.",
        "Marks from fuel, solvents or bird droppings left on.",
        "Panels without film in the drawing.",
        "No washing for 7 days, no pressure washer for 14.",
        "Come to the two-week check. Missing it does not end this warranty.",
        "Leave it alone and take a photo. Send it with the code above, call 555-0100, or come by.",
        "We answer by the next working day and look at it within 10 days.",
        "Cover goes with the vehicle. Tell us the new owner so that they get their own copy.",
    )
    assert getattr(phrases, listed).hit(ordinary) == ""


@pytest.mark.parametrize(
    ("sentence", "brands", "tied"),
    [
        ("Void unless washed with Brightfoam soap.", (), True),
        ("Cover is only valid if brightfoam is used.", ("Brightfoam",), True),
        ("Void unless washed with water.", (), False),
        ("Wash with Brightfoam if you like.", (), False),
        ("Damage caused by washing with Brightfoam is not covered if it stains.", (), False),
        ("Using Brightfoam does not void this warranty.", ("Brightfoam",), False),
    ],
)
def test_cover_that_hangs_on_a_brand_is_found_by_name_or_by_its_capital(
    sentence: str, brands: tuple[str, ...], tied: bool
) -> None:
    assert bool(phrases.brand_tie([sentence], brands)) is tied


def test_sentences_end_at_stops_and_bullets_and_not_inside_addresses() -> None:
    text = "Write to desk@shop.example now. Or call!\nThen wait; we answer • soon"
    assert phrases.sentences_of(text) == [
        "Write to desk@shop.example now.", "Or call!", "Then wait;", "we answer", "soon",
    ]  # fmt: skip


def test_a_very_long_text_is_read_in_reasonable_time() -> None:
    long = "void if the check must only be washed by our approved warranty unless " * 60
    started = time.process_time()
    for name in {name for name, _ in OFFENDING}:
        getattr(phrases, name).hit([long, long.replace("void", "word")])
    assert time.process_time() - started < 5
