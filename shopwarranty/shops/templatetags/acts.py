"""{{ change.act|act_words }}: what was done, in the reader's language."""

from django import template

from shopwarranty.shops.act_words import act_words

register = template.Library()
register.filter("act_words", act_words)
