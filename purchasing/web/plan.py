"""The plain page of draft orders and of lots that expire soonest."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from purchasing.selectors.plan_page import plan_page


@require_safe
def plan(request: HttpRequest) -> HttpResponse:
    return render(request, "purchasing/plan.html", {"page": plan_page(timezone.now())})
