"""The one-time address at which somebody sets their password."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.forms import SetPasswordForm
from django.contrib.auth.models import User
from django.contrib.auth.views import PasswordResetConfirmView
from django.http import HttpResponse
from django.urls import reverse_lazy
from django.utils.translation import gettext as _

from inventory.problems import Problem
from inventory.services.people import password_was_set
from inventory.web.posting import say
from inventory.web.viewing import now


class Welcome(PasswordResetConfirmView):
    """Django keeps the token out of the address while the page is open, and takes it once."""

    template_name = "inventory/welcome.html"
    success_url = reverse_lazy("sign_in")

    def form_valid(self, form: SetPasswordForm[User]) -> HttpResponse:
        response = super().form_valid(form)
        password_was_set(form.user, at=now())
        say(self.request, _("Your password is set. Sign in with it."))
        return response

    def form_invalid(self, form: SetPasswordForm[User]) -> HttpResponse:
        response = super().form_invalid(form)
        response.status_code = 422
        return response

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        facts = super().get_context_data(**kwargs)
        form = facts.get("form")
        errors = form.errors.get_json_data() if form is not None and form.is_bound else {}
        problems = [
            Problem("password", error["message"], field)
            for field, found in errors.items()
            for error in found
        ]
        return {**facts, "problems": problems, "typed": {}}
