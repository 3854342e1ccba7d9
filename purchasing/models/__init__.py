"""Tables of purchasing."""

from purchasing.models.due import DueMoment
from purchasing.models.findings import Finding
from purchasing.models.offers import Offer, Price, PriceBreak
from purchasing.models.orders import Answer, OrderLine, PurchaseOrder, Sending
from purchasing.models.pars import Par
from purchasing.models.receipts import Receipt, ReceiptLine, ReceiptPhoto
from purchasing.models.replays import Replay
from purchasing.models.risks import LotRisk, UseByLook
from purchasing.models.runs import ReorderRun, RunLine
from purchasing.models.suppliers import Supplier, SupplierClosure

__all__ = [
    "Answer",
    "DueMoment",
    "Finding",
    "LotRisk",
    "Offer",
    "OrderLine",
    "Par",
    "Price",
    "PriceBreak",
    "PurchaseOrder",
    "Receipt",
    "ReceiptLine",
    "ReceiptPhoto",
    "ReorderRun",
    "Replay",
    "RunLine",
    "Sending",
    "Supplier",
    "SupplierClosure",
    "UseByLook",
]
