"""What is written to holders: which messages, when, and in whose words."""

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopwarranty.shops.access import OWNER, actor_of, allow
from shopwarranty.shops.models import Shop
from shopwarranty.web.notices import tell

from ..actions import wording as actions
from ..actions.offering import change_rules
from ..models import MessageText
from ..rules import rules_of
from ..writing.fill import as_html
from ..writing.kinds import BY_KEY, KINDS, PLACEHOLDERS, Kind
from ..writing.letters import Wording, Wordings, write
from ..writing.values import samples
from ..writing_forms import WordingForm, WritingForm, languages


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def writing(request: Any) -> HttpResponse:
    rules = rules_of(request.shop)
    form = WritingForm(request.POST or None, rules=rules)
    if form.is_valid():
        shop = Shop.objects.get(pk=request.shop.pk)
        change_rules(shop=shop, values=form.values(), actor=actor_of(request), now=request.now)
        tell(request, _("Saved. What waits in the outbox stays as it is."))
        return redirect("writing", request.shop.slug)
    own = set(MessageText.objects.values_list("kind", flat=True))
    kinds = [(kind, kind.key in own, kind.must_go or kind.key not in rules.silent) for kind in KINDS]
    context = {"form": form, "kinds": kinds, "section": "shop-settings"}
    return render(request, "inspections/writing.html", context)


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def wording(request: Any) -> HttpResponse:
    """One text: looked at, tried on oneself, kept, or given up for ours."""
    kind, language = asked_for(request)
    standing = Wordings().of(kind, language)
    initial = {"subject": standing.subject, "text": standing.text}
    form = WordingForm(request.POST or None, kind=kind, initial=initial)
    if request.method == "POST" and (done := act(request, kind, language, form)):
        return done
    shown = typed(form) or standing
    context = {
        "form": form,
        "kind": kind,
        "language": language,
        "languages": languages().items(),
        "standing": standing,
        "words": [(word, PLACEHOLDERS[word]) for word in kind.known],
        "as_typed": form.is_bound and form.is_valid(),
        **preview(request, kind, shown, language),
        "section": "shop-settings",
    }
    return render(request, "inspections/wording.html", context)


def asked_for(request: Any) -> tuple[Kind, str]:
    kind = BY_KEY.get(request.GET.get("kind", ""))
    language = request.GET.get("language", request.shop.language)
    if kind is None or language not in languages():
        raise Http404
    return kind, language


def typed(form: WordingForm) -> Wording | None:
    if form.is_bound and form.is_valid():
        return Wording(form.cleaned_data["subject"], form.cleaned_data["text"])
    return None


def act(request: Any, kind: Kind, language: str, form: WordingForm) -> HttpResponse | None:
    """None when the page is shown again: to look, or because something has to be put right."""
    who: dict[str, Any] = {"kind": kind, "language": language, "actor": actor_of(request), "now": request.now}
    back = f"{reverse('wording', args=[request.shop.slug])}?kind={kind.key}&language={language}"
    if "ours" in request.POST:
        if actions.back_to_ours(**who):
            tell(request, _("Our text is used again."))
        return redirect(back)
    wanted = typed(form)
    if wanted is None or "look" in request.POST:
        return None
    if "test" in request.POST:
        actions.send_test(wording=wanted, shop=request.shop, **who)
        tell(request, _("A test goes to your own address within a minute. Nothing is saved."))
        return None
    actions.keep_wording(subject=wanted.subject, text=wanted.text, **who)
    tell(request, _("Saved. It is used from the next message on."))
    return redirect(back)


def preview(request: Any, kind: Kind, shown: Wording, language: str) -> dict[str, Any]:
    values = samples(request.shop, request.today)
    letter = write(kind, shown, values, request.shop, language=language)
    return {
        "letter": letter,
        "looks": mark_safe(as_html(shown.text, values)),  # noqa: S308 made by as_html, which escapes all
    }
