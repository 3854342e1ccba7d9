"""A program that asks the API in somebody's name."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.models import User
from django.test import Client

from inventory.models import Location, Membership
from inventory.services.tokens import make_token
from tests import factories as make

ROOT = "/api/v1/"
PROBLEM_TYPE = "application/problem+json"


@dataclass(frozen=True)
class Answer:
    status: int
    body: Any
    headers: Any

    @property
    def rows(self) -> list[dict[str, Any]]:
        assert self.status == 200, self.body
        rows: list[dict[str, Any]] = self.body["rows"]
        return rows

    @property
    def codes(self) -> list[str]:
        return [problem["code"] for problem in self.body["problems"]]

    @property
    def messages(self) -> str:
        return " ".join(problem["message"] for problem in self.body["problems"])


@dataclass(frozen=True)
class Asker:
    user: User | None
    token: str = ""

    def get(self, path: str, **query: str | int) -> Answer:
        return self._answer(Client().get(ROOT + path, query, headers=self._headers()))

    def post(
        self,
        path: str,
        body: object = None,
        *,
        key: str | None = "",
        version: int | str | None = None,
    ) -> Answer:
        """``key`` None: none is sent; empty: a new one."""
        headers = self._headers()
        if key is not None:
            headers["Idempotency-Key"] = key or str(uuid.uuid4())
        if version is not None:
            headers["If-Match"] = f'"{version}"'
        sent = {} if body is None else body
        response = Client().post(ROOT + path, sent, "application/json", headers=headers)
        return self._answer(response)

    def _headers(self) -> dict[str, str]:
        return {"Authorization": f"Bearer {self.token}"} if self.token else {}

    def _answer(self, response: Any) -> Answer:
        good = response.status_code < 400
        assert response["Content-Type"] == ("application/json" if good else PROBLEM_TYPE)
        return Answer(response.status_code, response.json(), response.headers)


def asker(role: str, place: Location | None = None, **facts: Any) -> Asker:
    """Somebody with one role, at a place or (None) everywhere."""
    user = make.user()
    Membership.objects.create(user=user, role=role, location=place, **facts)
    return Asker(user, make_token(user, "test", None, make.NOW))


STRANGER = Asker(None)
