from django import forms
from django.core.exceptions import ValidationError

from refuge.exchange.reading import LARGEST_FILE
from refuge.plain_errors import PlainErrors


class UploadForm(PlainErrors, forms.Form):
    """The file to read in."""

    file = forms.FileField(
        label="CSV or XLSX file",
        allow_empty_file=True,  # the reader says what is missing
        error_messages={"required": "Choose a file first."},
        widget=forms.ClearableFileInput(
            attrs={
                "accept": ".csv,.txt,.xlsx,text/csv,application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
            }
        ),
    )

    def clean_file(self):  # type: ignore[no-untyped-def]
        """Turn away what is too large before it is read into the memory."""
        file = self.cleaned_data["file"]
        if file.size > LARGEST_FILE:
            raise ValidationError(
                f"The file has {file.size / 1048576:.1f} MB; {LARGEST_FILE // 1048576} MB is the most. Split it."
            )
        return file
