"""How days may be typed, by language; the first form is what a day field is filled with, as browsers want."""
