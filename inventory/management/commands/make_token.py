"""Make a token by which a program asks the API in a person's name; it is printed once."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.core.management.base import CommandParser
from django.utils import timezone

from inventory.management.refusing import RefusingCommand
from inventory.problems import Problem, Refused
from inventory.services.tokens import make_token


class Command(RefusingCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username")
        parser.add_argument("name", help="What it is for, such as 'till'.")

    def work(self, **options: Any) -> None:
        user = User.objects.filter(username=options["username"]).first()
        if user is None:
            message = f"There is nobody called '{options['username']}'."
            raise Refused(Problem("not_there", message, "username"))
        self.stdout.write(make_token(user, options["name"], None, timezone.now()))
