"""What is bought, made and sold, in which units, with which lives and allergens."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from inventory.fields import Money, Quantity, UnitCost
from inventory.models.words import code_field


class Item(models.Model):
    """``unit`` is the unit people read the item in; stock is kept in its base unit."""

    class Kind(models.TextChoices):
        INGREDIENT = "ingredient", "ingredient"
        PREP = "prep", "prep item"
        MENU = "menu", "menu item"
        PACKAGING = "packaging", "packaging"
        RESALE = "resale", "resale"

    class Storage(models.TextChoices):
        FROZEN = "frozen", "frozen"
        CHILLED = "chilled", "chilled"
        DRY = "dry", "dry"

    class OnReturn(models.TextChoices):
        KEEP = "keep", "keep"
        KEEP_IF_COLD = "keep_if_cold", "keep if cold"
        DISCARD = "discard", "discard"

    class UsePer(models.TextChoices):
        PORTION = "portion", "portion"
        COVER = "cover", "cover"
        HOUR = "hour", "open hour"
        STOP = "stop", "stop"

    code = code_field()
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    unit = models.CharField(max_length=10)
    storage = models.CharField(max_length=10, choices=Storage.choices, blank=True)
    shelf_life_days = models.PositiveIntegerField(null=True, blank=True)
    shelf_life_opened_days = models.PositiveIntegerField(null=True, blank=True)
    shelf_life_thawed_days = models.PositiveIntegerField(null=True, blank=True)
    thaw_hours = Quantity(null=True, blank=True)
    may_freeze = models.BooleanField(default=False)
    grams_per_ml = Quantity(null=True, blank=True)
    grams_per_each = Quantity(null=True, blank=True)
    tcs = models.BooleanField(default=False)
    ready_to_eat = models.BooleanField(default=False)
    traceability_listed = models.BooleanField(default=False)
    sale_price = Money(null=True, blank=True, help_text="Per unit.")
    on_return = models.CharField(max_length=12, choices=OnReturn.choices, blank=True)
    use_per = models.CharField(max_length=8, choices=UsePer.choices, blank=True)
    can_be_left_off = models.BooleanField(default=False)
    litres_per_unit = Quantity(null=True, blank=True)
    walk_order = models.IntegerField(null=True, blank=True)
    retired_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                name="item_density_positive",
                condition=Q(grams_per_ml__isnull=True) | Q(grams_per_ml__gt=0),
                violation_error_message="grams_per_ml is more than 0.",
            ),
            models.CheckConstraint(
                name="item_piece_weight_positive",
                condition=Q(grams_per_each__isnull=True) | Q(grams_per_each__gt=0),
                violation_error_message="grams_per_each is more than 0.",
            ),
            models.CheckConstraint(
                name="item_thaw_hours_not_negative",
                condition=Q(thaw_hours__isnull=True) | Q(thaw_hours__gte=0),
                violation_error_message="thaw_hours is 0 or more.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ItemUnit(models.Model):
    """A unit of the house's own: one ``word`` is ``qty`` ``of_unit``."""

    item = models.ForeignKey(Item, models.PROTECT, related_name="units")
    word = models.CharField(max_length=20)
    qty = Quantity()
    of_unit = models.CharField(max_length=20)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["item", "word"], name="house_unit_once_per_item"),
            models.CheckConstraint(
                name="house_unit_positive",
                condition=Q(qty__gt=0),
                violation_error_message="A unit of the house's own is more than 0.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item}: {self.word} = {self.qty} {self.of_unit}"


class AllergenWord(models.Model):
    """What is stated of one item and allergen; no row means *not stated*, never *free*."""

    class Says(models.TextChoices):
        CONTAINS = "contains", "contains"
        MAY_CONTAIN = "may", "may contain"
        FREE = "free", "free from"

    item = models.ForeignKey(Item, models.PROTECT, related_name="allergen_words")
    allergen = models.CharField(max_length=40)
    says = models.CharField(max_length=8, choices=Says.choices)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["item", "allergen"], name="allergen_once_per_item")
        ]

    def __str__(self) -> str:
        return f"{self.item} {self.get_says_display()} {self.allergen}"


class ItemCost(models.Model):
    """What an item costs from a day on, and who says so: written by purchasing."""

    item = models.ForeignKey(Item, models.PROTECT, related_name="costs")
    starts_on = models.DateField()
    cost = UnitCost()
    source = models.CharField(max_length=120)

    class Meta:
        ordering = ["item", "starts_on"]
        constraints = [
            models.UniqueConstraint(fields=["item", "starts_on"], name="item_cost_once_per_day"),
            models.CheckConstraint(name="item_cost_not_negative", condition=Q(cost__gte=0)),
        ]

    def __str__(self) -> str:
        return f"{self.item} {self.cost} from {self.starts_on}"
