"""How plates and VINs are compared: letters and digits only, upper case."""


def searched_form(text: str) -> str:
    return "".join(character for character in text.upper() if character.isalnum())
