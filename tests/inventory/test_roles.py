"""Who may do what, where, and up to how much."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.roles import ACTS_OF, Act, Grant, Viewer

MILL, CORNER = 1, 2


def person(*grants: Grant, device_at: int | None = None) -> Viewer:
    return Viewer(1, "Ines", grants, device_location_id=device_at)


def test_a_membership_at_one_place_says_nothing_of_another() -> None:
    staff = person(Grant("staff", MILL))
    assert staff.may(Act.RECEIVE, MILL)
    assert not staff.may(Act.RECEIVE, CORNER)
    assert staff.places(Act.RECEIVE) == frozenset({MILL})


def test_a_membership_without_a_place_holds_everywhere() -> None:
    buyer = person(Grant("buyer"))
    assert buyer.may(Act.APPROVE, CORNER)
    assert buyer.places(Act.APPROVE) is None


def test_who_is_nobody_may_nothing() -> None:
    assert not any(person().may(act) for act in Act)
    assert person().places() == frozenset()


def test_only_managers_and_owners_give_a_managers_word() -> None:
    assert {role for role, acts in ACTS_OF.items() if Act.ALLOW in acts} == {"manager", "owner"}


@pytest.mark.parametrize(("value", "may"), [("500", True), ("500.01", False)])
def test_an_order_is_approved_up_to_the_persons_limit(value: str, may: bool) -> None:
    buyer = person(Grant("buyer", MILL, approve_up_to=Decimal(500)))
    assert buyer.may_approve(Decimal(value), MILL) is may
    assert not buyer.may_approve(Decimal(1), CORNER)


def test_the_widest_limit_counts() -> None:
    both = person(Grant("buyer", MILL, approve_up_to=Decimal(500)), Grant("manager"))
    assert both.approve_up_to(MILL) is None
    assert both.may_approve(Decimal(10**6), MILL)


def test_a_limit_of_a_role_that_may_not_approve_opens_nothing() -> None:
    staff = person(Grant("staff", MILL), Grant("buyer", MILL, approve_up_to=Decimal(10)))
    assert not staff.may_approve(Decimal(11), MILL)


def test_a_shared_device_serves_its_place_only() -> None:
    owner = person(Grant("owner", sees_cost=True), device_at=CORNER)
    assert owner.may(Act.RECEIVE, CORNER)
    assert not owner.may(Act.RECEIVE, MILL)
    assert owner.places() == frozenset({CORNER})
    assert not owner.sees_cost(MILL)
    assert not owner.may_approve(Decimal(1), MILL)


def test_a_device_elsewhere_gives_its_people_nothing_more() -> None:
    staff = person(Grant("staff", MILL), device_at=CORNER)
    assert not any(staff.may(act) for act in Act)
    assert staff.places() == frozenset()
