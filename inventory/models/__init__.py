"""Tables of the kitchen."""

from inventory.models.inbound import Inbound
from inventory.models.items import AllergenWord, Item, ItemCost, ItemUnit
from inventory.models.ledger import Movement, OnHand, UnexplainedUse
from inventory.models.log import Event, Submission
from inventory.models.lots import Counter, Hold, Lot
from inventory.models.people import ApiToken, Device, Membership, PersonalNumber
from inventory.models.places import ClosingDay, Location, Setting, StorageArea
from inventory.models.prep import Batch, BatchInput
from inventory.models.recipes import Recipe, RecipeLine
from inventory.models.sales import Sale, Usage
from inventory.models.stops import Booking, MenuEntry, Stop
from inventory.models.transfers import Transfer, TransferLine

__all__ = [
    "AllergenWord",
    "ApiToken",
    "Batch",
    "BatchInput",
    "Booking",
    "ClosingDay",
    "Counter",
    "Device",
    "Event",
    "Hold",
    "Inbound",
    "Item",
    "ItemCost",
    "ItemUnit",
    "Location",
    "Lot",
    "Membership",
    "PersonalNumber",
    "MenuEntry",
    "Movement",
    "OnHand",
    "Recipe",
    "RecipeLine",
    "Sale",
    "Setting",
    "Stop",
    "StorageArea",
    "Submission",
    "Transfer",
    "TransferLine",
    "UnexplainedUse",
    "Usage",
]
