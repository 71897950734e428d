from typing import Any

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.template.defaultfilters import filesizeformat
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.desk.flat.faults import shortened

CSV = {"accept": ".csv,text/csv"}


class FilesForm(forms.Form):
    """The two files. The second may be left out: history without any looks."""

    jobs = forms.FileField(
        label=gettext_lazy("Jobs"),
        help_text=gettext_lazy("One row for each job, panel, film piece and place."),
        widget=forms.FileInput(attrs=CSV),
    )
    findings = forms.FileField(
        label=gettext_lazy("Findings, if there are any"),
        required=False,
        help_text=gettext_lazy("One row for each place looked at."),
        widget=forms.FileInput(attrs=CSV),
    )

    def clean_jobs(self) -> Any:
        return _fitting(self.cleaned_data["jobs"])

    def clean_findings(self) -> Any:
        return _fitting(self.cleaned_data["findings"])


class TakeInForm(forms.Form):
    with_checks = forms.BooleanField(
        label=gettext_lazy("Plan the checks too whose time is not over yet"), required=False
    )


def _fitting(file: UploadedFile | None) -> UploadedFile | None:
    if file is not None and (file.size or 0) > settings.MAX_UPLOAD_BYTES:
        most = filesizeformat(settings.MAX_UPLOAD_BYTES)
        words = _("%(name)s is larger than %(most)s. Larger files come in with the command import_jobs.")
        raise forms.ValidationError(words % {"name": shortened(file.name or ""), "most": most})
    return file
