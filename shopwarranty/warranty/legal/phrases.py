"""Words that must not, or had better not, stand in a certificate: careful lists over single sentences.

A hit names the phrase as written. Lists are for English; other languages are left to a person. A sentence
that denies the thing ("missing it does not end this warranty") is passed over by the guards.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

_PROMISE: Final = r"(?:warranty|guarantee|cover(?:age)?|promise|certificate)"
_VOIDS: Final = (
    r"(?:voids?|voided|voiding|null|invalid(?:ates?|ated)?|forfeits?|forfeited|lapses?|lapsed"
    rf"|{_PROMISE} (?:will |shall )?(?:ends?|stops?|ceases?|expires?|is (?:lost|cancell?ed|terminated))"
    rf"|lose your {_PROMISE})"
)
_ENDS: Final = rf"(?:{_VOIDS}|{_PROMISE} (?:does|will|shall) not apply|no {_PROMISE}|not covered)"
_ON_CONDITION: Final = (
    r"(?:only valid|valid only|only applies|applies only|condition(?:al)? (?:on|upon|of)"
    rf"|(?:to|in order to) (?:keep|maintain|retain) (?:the|your|this) {_PROMISE}"
    rf"|keep (?:the|your|this) {_PROMISE} (?:valid|in force|alive))"
)
_HANGS_ON: Final = rf"(?:{_ENDS}|{_ON_CONDITION})"
_HANGS_IF: Final = rf"(?:{_ENDS}[^.;]{{0,80}}\b(?:if|unless|when|without|where|until)\b|{_ON_CONDITION})"
_OURS: Final = r"(?:our|genuine|approved|authori[sz]ed|certified|own[- ]brand|recommended)"
_BOUGHT: Final = (
    r"(?:products?|soaps?|shampoos?|cleaners?|sealants?|coatings?|films?|parts?|kits?|wash(?:es)?|dealers?"
    r"|installers?|shops?|workshops?|services?|technicians?|centers?|centres?|bays?)"
)
_TIED: Final = (
    rf"(?:{_OURS} (?:[\w-]+ ){{0,2}}{_BOUGHT}"
    r"|(?:at|by|from) (?:us\b|(?:our|the) (?:shop|workshop|bay|team)\b))"
)
_CARE: Final = (
    r"(?:wash\w*|clean\w*|polish\w*|wax\w*|coat\w*|maintain\w*|servic\w*|inspect\w*|check\w*|repair\w*"
    r"|treat\w*|car(?:e|ed) for)"
)
_MUST: Final = (
    r"(?:\bmust\b|\bonly\b|\brequired\b|\balways\b|\bhave to\b|\bhas to\b|\bfailure to\b|\bneeds? to\b)"
)
_CHECK: Final = r"(?:checks?|check-?ups?|inspections?|appointments?)"
_MISSED: Final = (
    r"(?:miss(?:ed|es|ing)?|skip(?:ped|s|ping)?|fail(?:s|ed|ure)? to (?:attend|come|keep|have|show)"
    r"|not (?:attended|kept|done|made|carried out)|unless|without|until|if no)"
)
_WORKED: Final = (
    r"(?:repair\w*|re-?work\w*|work(?:ed)? on|remov\w*|taken off|alter\w*|modif\w*|servic\w*|touched)"
)
_OTHERS: Final = (
    r"by (?:(?:any|some)(?:one|body) (?:else|other than|but)|others\b|another (?:shop|firm|workshop|person)"
    r"|(?:a |any )?third part(?:y|ies)|any other|unauthori[sz]ed)"
)
_DENIES: Final = (
    r"\b(?:not|never|nor|nothing|no (?:missed|late)[\w ]*) (?:[\w]+ ){0,3}?"
    r"(?:voids?|ends?|affects?|lapses?|cancels?|invalidates?|changes?|loses?|forfeits?|cuts?|stops?"
    r"|(?:a )?condition|required|needed)\b"
    r"|\bneither\b|\bwithout (?:affecting|losing|voiding|ending)"
)
_FREE: Final = (
    r"free of charge|\bfree (?:\w+ ){0,3}(?:check|inspection|service|look|wash)|at no (?:cost|charge)"
    r"|without charge"
)
_CAUSED: Final = (
    r"\bcaus(?:e|es|ed|ing)\b|damage (?:\w+ )?(?:from|by|due)|\bresult(?:s|ed|ing)? (?:from|of)"
    r"|\bdue to\b|because of|to the extent"
)
_WARRANTIES: Final = r"(?:warrant(?:y|ies)|guarantees?)"


@dataclass(frozen=True, slots=True)
class PhraseList:
    """Patterns to look for in one sentence, and guards that excuse the sentence."""

    patterns: tuple[re.Pattern[str], ...]
    guards: tuple[re.Pattern[str], ...] = ()

    def hit(self, texts: Iterable[str]) -> str:
        """The first offending phrase as written, or ""."""
        for text in texts:
            for sentence in sentences_of(text):
                found = self._in_sentence(sentence)
                if found:
                    return found
        return ""

    def _in_sentence(self, sentence: str) -> str:
        matches = (pattern.search(sentence) for pattern in self.patterns)
        match = next((match for match in matches if match), None)
        if match is None or any(guard.search(sentence) for guard in self.guards):
            return ""
        return match[0].strip()


def sentences_of(text: str) -> list[str]:
    """The sentences of a text, apostrophes and white space made plain; a dot inside a word ends nothing."""
    parts = re.split(r"(?<=[.!?;])\s+|\s*\u2022\s*", text.replace("\u2019", "'"))
    return [re.sub(r"\s+", " ", part).strip() for part in parts if part.strip()]


def _list(*patterns: str, guards: tuple[str, ...] = ()) -> PhraseList:
    return PhraseList(
        tuple(re.compile(pattern, re.IGNORECASE) for pattern in patterns),
        tuple(re.compile(guard, re.IGNORECASE) for guard in guards),
    )


DISCLAIMS_IMPLIED: Final = _list(
    r"\bdisclaim\w*[^.;]{0,60}\b(?:warrant(?:y|ies)|merchantability|fitness)",
    r"\b(?:implied warrant(?:y|ies)|merchantability|fitness)[^.;]{0,80}\b(?:is|are|be) (?:\w+ ){0,2}?"
    r"(?:excluded|disclaimed|waived|negated)",
    rf"\b(?:no|without(?: any)?|exclud(?:e|es|ing)|waives?) (?:\w+ ){{0,3}}?implied {_WARRANTIES}",
    rf"\bin (?:lieu|place) of (?:all|any)(?: other)?(?: \w+){{0,3}} {_WARRANTIES}",
    rf"\bno other (?:(?:express|implied|or|and),? )*{_WARRANTIES}",
    r"\b(?:sold|supplied|provided|delivered) ['\"\u201c]?as[ -]is\b",
    guards=(
        r"\b(?:not|never|nothing)\b[^.;]{0,50}(?:disclaim|exclud|waiv|limit)",
        r"\bno (?:\w+ )?implied (?:warranty|warranties|guarantees?) (?:is|are) ",
    ),
)
_TIE_GUARDS: Final = (_DENIES, _FREE, _CAUSED)
TIED_TO_PURCHASE: Final = _list(
    rf"\b{_HANGS_IF}[^.;]{{0,160}}\b{_TIED}[^.;]{{0,160}}",
    rf"\b{_TIED}[^.;]{{0,160}}\b(?:{_VOIDS}|{_ON_CONDITION})",
    rf"\b{_HANGS_IF}[^.;]{{0,160}}\b(?:(?:paid|pays?) for\b|purchas\w+|bought)[^.;]{{0,160}}",
    guards=_TIE_GUARDS,
)
LOOKS_TIED: Final = _list(
    rf"{_MUST}[^.;]{{0,160}}\b{_CARE}[^.;]{{0,160}}\b{_TIED}",
    rf"\b{_CARE}[^.;]{{0,160}}{_MUST}[^.;]{{0,160}}\b{_TIED}",
    rf"\buse only\b[^.;]{{0,160}}\b{_TIED}",
    rf"\b(?:not|never) use (?:other|another|any other)[^.;]{{0,160}}\b{_BOUGHT}",
    guards=_TIE_GUARDS,
)
ENDS_WITHOUT_CAUSE: Final = _list(
    rf"\b{_ENDS}[^.;]{{0,160}}\b(?:if|unless|when|where|once|by|after|without)\b[^.;]{{0,160}}"
    rf"\b(?:{_CARE}|{_WORKED}|pressure)[^.;]{{0,160}}",
    rf"\b(?:{_CARE}|{_WORKED})[^.;]{{0,160}}\b(?:voids?|invalidates?|ends? (?:the|this|your) {_PROMISE})",
    rf"\b{_WORKED} {_OTHERS}",
    guards=(
        _DENIES,
        _CAUSED,
        rf"\b{_CHECK}\b[^.;]{{0,160}}\b{_MISSED}\b",
        rf"\b{_MISSED}\b[^.;]{{0,160}}\b{_CHECK}\b",
    ),
)
CHECK_IS_CONDITION: Final = _list(
    rf"\b{_HANGS_ON}[^.;]{{0,160}}\b{_MISSED}\b[^.;]{{0,160}}\b{_CHECK}\b",
    rf"\b{_HANGS_ON}[^.;]{{0,160}}\b{_CHECK}\b[^.;]{{0,160}}\b{_MISSED}\b",
    rf"\b{_MISSED}\b[^.;]{{0,160}}\b{_CHECK}\b[^.;]{{0,160}}\b{_ENDS}",
    rf"\b{_CHECK}\b[^.;]{{0,160}}\b{_MISSED}\b[^.;]{{0,160}}\b{_ENDS}",
    rf"\b{_ON_CONDITION}[^.;]{{0,160}}\b(?:an?|the|every|each|all|annual|yearly|regular|two-week)\b"
    rf"[^.;]{{0,160}}\b{_CHECK}\b",
    guards=(_DENIES, r"\boffer(?:s|ed)?\b"),
)
DECIDES_ALONE: Final = _list(
    r"\b(?:decisions?|judge?ments?|determinations?|opinions?|findings?|verdict)\b[^.;]{0,40}"
    r"\b(?:is|are|be)(?: \w+){0,2} (?:final|binding|conclusive)",
    r"\bfinal and binding\b",
    r"\b(?:sole|absolute|exclusive) (?:and \w+ )?(?:discretion|judge?ment|opinion|decision|determination)",
    r"\b(?:we|shop|warrantor|manufacturer|maker|installer) alone (?:may )?(?:decides?|determines?|judges?)",
    r"\b(?:decided|determined|judged) (?:solely|exclusively|only) by\b",
    r"\b(?:we|the shop|the warrantor) (?:have|has) the (?:final|last) (?:say|word)",
    guards=(r"\b(?:not|never|nor|nobody's)\b[^.;]{0,40}(?:final|binding|sole|alone|conclusive)",),
)
REGISTRATION_OR_NOTHING: Final = _list(
    rf"\b{_HANGS_ON}[^.;]{{0,160}}\b(?:unless|if|until|without|when|once)\b[^.;]{{0,160}}"
    r"\b(?:regist\w+|(?:warranty )?card)\b",
    rf"\b(?:regist\w+|(?:warranty )?card)\b[^.;]{{0,160}}\b(?:or|otherwise)\b[^.;]{{0,160}}\b{_ENDS}",
    r"\bmust (?:be )?(?:register(?:ed)?\b|return (?:the|this) (?:\w+ )?card)",
    rf"\b(?:not|un)[ -]?regist\w+[^.;]{{0,160}}\b{_ENDS}",
    guards=(_DENIES, r"\bchanges none\b"),
)
PAID_EXTENSION: Final = _list(
    rf"\b(?:extend(?:ed|s)?|longer|additional|extra) (?:\w+ )?{_PROMISE}\b[^.;]{{0,60}}"
    r"\b(?:for|at) (?:an? )?(?:extra|additional|further|small|[$\u20ac\u00a3]|fee|charge|price|cost)",
    r"\b(?:fee|charge|price|payment)\b[^.;]{0,40}\b(?:extend(?:s|ed)?|extension)\b",
    guards=(r"\b(?:no|without) (?:\w+ )?(?:fee|charge|cost|payment)",),
)
NO_RIGHTS_LEFT: Final = _list(
    r"\b(?:no|without(?: any)?|loses? (?:all|any|your)|end of) (?:further |more |remaining |other )?"
    r"(?:rights?|remed(?:y|ies))\b",
    r"\ball (?:\w+ )?(?:rights?|remed(?:y|ies)|claims?) (?:\w+ )?(?:ends?|expires?|lapses?"
    r"|(?:is|are) (?:lost|void|over))",
    r"\b(?:only|sole|exclusive) (?:\w+ )?(?:rights?|remed(?:y|ies)) (?:is|are|you have)\b",
    guards=(
        r"\blos(?:e|es|ing) no\b|\bnone of\b",
        r"\bno (?:\w+ )?(?:rights?|remed(?:y|ies))[^.;]{0,30}\b(?:is|are) (?:lost|affected|taken|limited)",
    ),
)
TERMS_ELSEWHERE: Final = _list(
    r"\b(?:see|refer to|found (?:at|on|in)|available (?:at|on)|listed (?:at|on)|posted (?:at|on)|read)\b"
    r"[^.;]{0,60}(?:web ?site|web ?page|www\.|https?://|terms and conditions)",
    r"\bsubject to (?:our|the|further|additional)[\w ]{0,30}(?:terms|conditions)\b",
    r"\b(?:additional|further|other) (?:exclusions|terms|conditions|limitations) (?:may )?apply\b",
)
_HANGS: Final = re.compile(rf"\b{_HANGS_ON}", re.IGNORECASE)
_EXCUSED: Final = re.compile("|".join(_TIE_GUARDS), re.IGNORECASE)
_CONDITION: Final = re.compile(r"\b(?:unless|if|when|only|without)\b", re.IGNORECASE)
_SOME_NAME: Final = r"\b(?:[Ww]ith|[Uu]sing|[Uu]se)(?: only| the)? (?-i:[A-Z])[\w-]+"


def brand_tie(texts: Iterable[str], brands: Iterable[str]) -> str:
    """A sentence in which cover hangs on a brand, or "".

    A brand is one of `brands`, or a capitalised name after with, using or use.
    """
    names = [rf"\b{re.escape(brand.strip())}\b" for brand in brands if brand.strip()]
    named = re.compile("|".join([_SOME_NAME, *names]), re.IGNORECASE)
    for text in texts:
        for sentence in sentences_of(text):
            hangs = _HANGS.search(sentence) and _CONDITION.search(sentence)
            if hangs and named.search(sentence) and not _EXCUSED.search(sentence):
                return sentence
    return ""
