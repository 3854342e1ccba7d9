"""Where letters go: to a mail server, or into a folder where none is named."""

from __future__ import annotations

from django.conf import settings

_FILES = "django.core.mail.backends.filebased.EmailBackend"


def mail_folder() -> str:
    """The folder in which letters are written as files; empty: a mail server takes them."""
    if settings.EMAIL_BACKEND != _FILES:
        return ""
    return str(getattr(settings, "EMAIL_FILE_PATH", ""))
