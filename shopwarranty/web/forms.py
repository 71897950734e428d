"""How forms are put on the page: one renderer, so that every form in the project reads the same."""

from django.forms.renderers import DjangoTemplates


class Renderer(DjangoTemplates):
    """Named in settings as FORM_RENDERER. Widgets stay Django's own; the admin keeps its templates."""

    form_template_name = "web/forms/form.html"
    field_template_name = "web/forms/field.html"
    formset_template_name = "web/forms/formset.html"
